package record

import (
	"fmt"
	"net"
	"strconv"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/core/snap"
)

// Login is how the card lets itself be read.
type Login struct {
	Version   string      // "1", "2c" or "3"
	Community snap.Secret // of SNMPv1 and SNMPv2c
	User      snap.User   // of SNMPv3: name, protocols and passwords
}

var versions = map[string]gosnmp.SnmpVersion{"1": gosnmp.Version1, "2c": gosnmp.Version2c, "3": gosnmp.Version3}

var authentications = map[snap.AuthProtocol]gosnmp.SnmpV3AuthProtocol{
	snap.AuthNone: gosnmp.NoAuth, snap.AuthMD5: gosnmp.MD5, snap.AuthSHA1: gosnmp.SHA, snap.AuthSHA224: gosnmp.SHA224,
	snap.AuthSHA256: gosnmp.SHA256, snap.AuthSHA384: gosnmp.SHA384, snap.AuthSHA512: gosnmp.SHA512,
}

var privacies = map[snap.PrivProtocol]gosnmp.SnmpV3PrivProtocol{
	snap.PrivNone: gosnmp.NoPriv, snap.PrivDES: gosnmp.DES, snap.PrivAES128: gosnmp.AES,
	snap.PrivAES192Blumenthal: gosnmp.AES192, snap.PrivAES256Blumenthal: gosnmp.AES256,
	snap.PrivAES192Reeder: gosnmp.AES192C, snap.PrivAES256Reeder: gosnmp.AES256C,
}

var flags = map[snap.SecurityLevel]gosnmp.SnmpV3MsgFlags{
	snap.NoAuthNoPriv: gosnmp.NoAuthNoPriv, snap.AuthNoPriv: gosnmp.AuthNoPriv, snap.AuthPriv: gosnmp.AuthPriv,
}

// dial is a client of the agent whose socket sends requests to read and nothing else.
func (l *Login) dial(agent string, timeout time.Duration, retries int) (*gosnmp.GoSNMP, error) {
	host, port, err := net.SplitHostPort(agent)
	if err != nil {
		return nil, err
	}
	number, err := strconv.ParseUint(port, 10, 16)
	if err != nil {
		return nil, err
	}
	version, ok := versions[l.Version]
	if !ok {
		return nil, fmt.Errorf("there is no version %q of SNMP", l.Version)
	}
	c := &gosnmp.GoSNMP{
		Target: host, Port: uint16(number), Transport: "udp", Version: version,
		Community: l.Community.Reveal(), Timeout: timeout, Retries: retries, MaxOids: gosnmp.MaxOids,
	}
	if version == gosnmp.Version3 {
		l.secure(c)
	}
	if err := c.Connect(); err != nil {
		return nil, err
	}
	c.Conn = &readOnly{Conn: c.Conn}
	return c, nil
}

func (l *Login) secure(c *gosnmp.GoSNMP) {
	u := &l.User
	c.SecurityModel = gosnmp.UserSecurityModel
	c.MsgFlags = flags[u.Highest()] | gosnmp.Reportable
	c.SecurityParameters = &gosnmp.UsmSecurityParameters{
		UserName:               u.Name,
		AuthenticationProtocol: authentications[u.Auth], AuthenticationPassphrase: u.AuthPassword.Reveal(),
		PrivacyProtocol: privacies[u.Priv], PrivacyPassphrase: u.PrivPassword.Reveal(),
	}
}
