package bundle

import (
	"bytes"

	"ridethrough/sim/internal/face/ber"
)

var snmpTrapOID = named("1.3.6.1.6.3.1.1.4.1.0")

// NoticeOf reads the notification of SNMPv2 (RFC 3416 section 4.2.6); false for a PDU
// that is none. It shares nothing with p.
func NoticeOf(p *ber.PDU) (n Notice, ok bool) {
	v := p.VarBinds
	if p.Type != ber.TrapV2 && p.Type != ber.InformRequest || len(v) < 2 ||
		!v[0].Name.Equal(sysUpTime) || v[0].Value.Tag != ber.TimeTicks || !v[1].Name.Equal(snmpTrapOID) || v[1].Value.Tag != ber.ObjectID {
		return n, false
	}
	n.Inform = p.Type == ber.InformRequest
	n.Uptime, n.Trap = v[0].Value.Int, v[1].Value.OID.Child()
	for _, o := range v[2:] {
		n.Objects = append(n.Objects, Object{Name: o.Name.Child(), Value: kept(o.Value)})
	}
	return n, true
}

// kept is v without a share in the message that it came in.
func kept(v ber.Value) ber.Value {
	v.Bytes = bytes.Clone(v.Bytes)
	if v.OID != nil {
		v.OID = v.OID.Child()
	}
	return v
}
