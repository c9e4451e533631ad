package sim_test

import (
	"bytes"
	"net"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

// manager is a manager of the served card.
func (c *card) manager(version gosnmp.SnmpVersion, user, auth, priv string) *gosnmp.GoSNMP {
	c.t.Helper()
	host, port, err := net.SplitHostPort(c.ready.Endpoints.SNMP)
	if err != nil {
		c.t.Fatal(err)
	}
	n, _ := strconv.ParseUint(port, 10, 16)
	g := &gosnmp.GoSNMP{Target: host, Port: uint16(n), Version: version, Community: "look", Timeout: 300 * time.Millisecond} // v1 and v2c are closed
	if version == gosnmp.Version3 {
		g.SecurityModel, g.MsgFlags, g.Timeout, g.Retries = gosnmp.UserSecurityModel, gosnmp.AuthPriv, 5*time.Second, 3
		g.SecurityParameters = &gosnmp.UsmSecurityParameters{
			UserName: user, AuthenticationProtocol: gosnmp.SHA256, AuthenticationPassphrase: auth, PrivacyProtocol: gosnmp.AES, PrivacyPassphrase: priv,
		}
	}
	if err := g.Connect(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { g.Conn.Close() })
	return g
}

func answered(g *gosnmp.GoSNMP, oid string) bool {
	p, err := g.Get([]string{oid})
	return err == nil && p.Error == gosnmp.NoError && len(p.Variables) == 1 && p.Variables[0].Type != gosnmp.NoSuchObject
}

// TestManagersByHand: a technician makes a user of SNMPv3 and a view over SSH and
// closes the other versions; it holds at once and in the next session, and no pass
// phrase comes back out or stands in the journal of the session.
func TestManagersByHand(t *testing.T) {
	const outputSource, sysContact = ".1.3.6.1.2.1.33.1.4.1.0", ".1.3.6.1.2.1.1.4.0"
	const auth, priv = "one long phrase", "another phrase"
	var journal bytes.Buffer
	opts := sim.ServeOptions{Speed: 1, State: t.TempDir(), Journal: &journal}
	c := serveText(t, served, opts)
	for _, line := range []string{
		`add access.snmp-view unit include=1.3.6.1.2.1.33`,
		`add access.snmp-user watcher "auth-password=` + auth + `" "priv-password=` + priv + `" read=unit notify=unit`,
		`set access.snmp-v1=no access.snmp-v2c=no`,
	} {
		if out, status, _ := c.shell(line, ""); status != 0 || out != "Saved.\n" {
			t.Fatalf("%s: %d %s", line, status, out)
		}
	}
	for line, reason := range map[string]string{
		`set access.snmp-user.watcher.read=nowhere`:          `there is no view "nowhere"`,
		`set access.snmp-user.watcher.auth=none`:             "there is no privacy without authentication",
		`set access.snmp-user.watcher.auth=rot13`:            "expected one of none, md5",
		`add access.snmp-user second user=watcher`:           `there is another user "watcher"`,
		`set access.snmp-user.watcher.priv-password=short77`: "xpected 8 to 64",
	} {
		if out, status, _ := c.shell(line, ""); status == 0 || !strings.Contains(out, reason) || strings.Contains(out, "short77") {
			t.Errorf("%s: %d %s", line, status, out)
		}
	}
	check := func(when string) {
		t.Helper()
		v3 := c.manager(gosnmp.Version3, "watcher", auth, priv)
		if !answered(v3, outputSource) || answered(v3, sysContact) {
			t.Errorf("%s: the user reads something else than its view", when)
		}
		wrong := c.manager(gosnmp.Version3, "watcher", auth, "a wrong phrase") // to which nothing is answered
		wrong.Timeout, wrong.Retries = 300*time.Millisecond, 0
		if answered(wrong, outputSource) {
			t.Errorf("%s: a wrong phrase opens", when)
		}
		for _, version := range []gosnmp.SnmpVersion{gosnmp.Version1, gosnmp.Version2c} {
			if answered(c.manager(version, "", "", ""), outputSource) {
				t.Errorf("%s: version %v answers", when, version)
			}
		}
		for _, word := range []string{"show access", "export", "journal all", "show access --json"} {
			if out, _, _ := c.shell(word, ""); strings.Contains(out, "phrase\"") || strings.Contains(out, auth) || strings.Contains(out, priv) {
				t.Errorf("%s: %s shows a pass phrase:\n%s", when, word, out)
			}
		}
	}
	check("at once")
	c.end()
	if text := journal.String(); strings.Contains(text, auth) || strings.Contains(text, priv) || !strings.Contains(text, "watcher") {
		t.Errorf("the journal of the session:\n%s", text)
	}
	opts.Journal = nil
	c = serveText(t, served, opts)
	check("in the next session")
	c.end()
}
