package record

import (
	"bytes"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/face/usm"
)

var (
	sysUpTime   = ber.MustOID("1.3.6.1.2.1.1.3.0")
	snmpTrapOID = ber.MustOID("1.3.6.1.6.3.1.1.4.1.0")
	snmpTraps   = ber.MustOID("1.3.6.1.6.3.1.1.5")
)

// ear decodes notifications. The zero value knows no user of SNMPv3.
type ear struct {
	user    snap.User
	masters usm.Masters
	informs *snmp.Receiver // of SNMPv3, to which they ask before they come; nil: nobody hears them
}

// newEar hears SNMPv3 of a user. The name is of the engine that informs are meant for:
// another one each time, since a card remembers the clock of each.
func newEar(user snap.User, name string) ear {
	return ear{user: user, informs: snmp.NewReceiver(name, "", []snap.User{user})}
}

// hear is the notification in a message, and for an inform of SNMPv1's successors the
// answer that it asks for; false for anything else, to which there may be an answer too.
// It changes message. elapsed is for how many seconds somebody has been listening.
func (e *ear) hear(message []byte, elapsed int32) (n bundle.Notice, answer []byte, ok bool) {
	var m ber.Message
	err := m.Decode(message)
	switch {
	case err == nil && m.PDU.Type == ber.TrapV1:
		return hearV1(message)
	case err == nil && m.Version == ber.V2c:
		n, ok = bundle.NoticeOf(&m.PDU)
		n.Version = "2c"
		if ok && n.Inform {
			answer = acknowledge(&m)
		}
		return n, answer, ok
	case err == ber.ErrVersion && e.wantsReports(message):
		// A trap does not (RFC 3412 section 6.4), and that of a card that says so all the
		// same is heard too.
		if n, ok = e.hearV3(bytes.Clone(message)); !ok || n.Inform {
			return e.hearInform(message, elapsed)
		}
	case err == ber.ErrVersion:
		n, ok = e.hearV3(message)
	}
	return n, nil, ok
}

// wantsReports says whether the sender of a message of SNMPv3 waits for an answer, as
// that of an inform does, and of the question before one.
func (e *ear) wantsReports(message []byte) bool {
	var m ber.V3Message
	return e.informs != nil && m.Decode(message) == nil && m.Flags&ber.FlagReportable != 0
}

// hearInform has the answer to the question for the engine or for its time, or the
// acknowledgement.
func (e *ear) hearInform(message []byte, elapsed int32) (n bundle.Notice, answer []byte, ok bool) {
	h, err := e.informs.Hear(message, elapsed)
	if err != nil || h.Why != "" || h.PDU == nil {
		return n, h.Reply, false
	}
	n, ok = bundle.NoticeOf(h.PDU)
	n.Version = "3"
	return n, h.Answer(0, 0), ok
}

// acknowledge is the response to an inform (RFC 3416 section 4.2.7).
func acknowledge(m *ber.Message) []byte {
	out, message := ber.Open(nil, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, int64(m.Version))
	out = ber.AppendString(out, ber.OctetString, m.Community)
	out, pdu := ber.Open(out, ber.Response)
	for _, n := range []int32{m.PDU.RequestID, 0, 0} {
		out = ber.AppendInt(out, ber.Integer, int64(n))
	}
	out, list := ber.Open(out, ber.Sequence)
	out = ber.Close(append(out, m.PDU.Raw...), list)
	return ber.Close(ber.Close(out, pdu), message)
}

// hearV1 reads the trap of RFC 1157, as RFC 3584 section 3.1 translates it.
func hearV1(message []byte) (n bundle.Notice, _ []byte, ok bool) {
	r := ber.NewReader(message)
	content, err := r.Expect(ber.Sequence)
	if err != nil {
		return n, nil, false
	}
	r = ber.NewReader(content)
	if _, err = r.Int32(); err != nil {
		return n, nil, false
	}
	if _, err = r.Expect(ber.OctetString); err != nil {
		return n, nil, false
	}
	if content, err = r.Expect(ber.TrapV1); err != nil {
		return n, nil, false
	}
	n, ok = trapV1(content)
	return n, nil, ok
}

func trapV1(content []byte) (n bundle.Notice, ok bool) {
	r := ber.NewReader(content)
	enterprise, err := r.Expect(ber.ObjectID)
	if err != nil {
		return n, false
	}
	if _, err = r.Expect(ber.IPAddress); err != nil {
		return n, false
	}
	generic, err := r.Int32()
	if err != nil {
		return n, false
	}
	specific, err := r.Int32()
	if err != nil || generic < 0 || generic > 6 || specific < 0 {
		return n, false
	}
	ticks, err := r.Expect(ber.TimeTicks)
	if err != nil {
		return n, false
	}
	list, err := r.Expect(ber.Sequence)
	if err != nil || r.End() != nil {
		return n, false
	}
	return translated(enterprise, ticks, list, uint32(generic), uint32(specific))
}

// translated has the parts of a trap decoded in the message that SNMPv2 would have
// for it.
func translated(enterprise, ticks, list []byte, generic, specific uint32) (n bundle.Notice, ok bool) {
	out, message := ber.Open(nil, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, ber.V2c)
	out = ber.AppendString(out, ber.OctetString, "")
	out, pdu := ber.Open(out, ber.TrapV2)
	for range 3 {
		out = ber.AppendInt(out, ber.Integer, 0)
	}
	out, binds := ber.Open(out, ber.Sequence)
	out, first := ber.Open(out, ber.Sequence)
	out = ber.AppendString(ber.AppendOID(out, sysUpTime), ber.TimeTicks, ticks)
	out = ber.Close(out, first)
	out, second := ber.Open(out, ber.Sequence)
	out = ber.AppendString(ber.AppendOID(out, snmpTrapOID), ber.ObjectID, enterprise)
	out = ber.Close(out, second)
	out = ber.Close(append(out, list...), binds)
	out = ber.Close(ber.Close(out, pdu), message)
	var m ber.Message
	if m.Decode(out) != nil {
		return n, false
	}
	n, ok = bundle.NoticeOf(&m.PDU)
	n.Version = "1"
	if n.Trap = n.Trap.Child(0, specific); generic < 6 {
		n.Trap = snmpTraps.Child(generic + 1)
	}
	return n, ok
}

// hearV3 reads a trap of SNMPv3 from the engine that it names. Whether it is old is
// not asked: what came is recorded.
func (e *ear) hearV3(message []byte) (n bundle.Notice, ok bool) {
	var m ber.V3Message
	var sec usm.Params
	if e.user.Name == "" || m.Decode(message) != nil || sec.Decode(m.Security) != nil ||
		string(sec.User) != e.user.Name || len(sec.EngineID) < usm.MinEngineID || len(sec.EngineID) > usm.MaxEngineID {
		return n, false
	}
	key := e.masters.For(&e.user, string(sec.EngineID))
	if auth := m.Flags&ber.FlagAuth != 0; auth != (e.user.Auth != snap.AuthNone) || auth && !key.Verify(message, sec.Auth) {
		return n, false
	}
	content := m.Plain
	if m.Cipher != nil {
		if e.user.Priv == snap.PrivNone || !key.Decrypt(m.Cipher, sec.Boots, sec.Time, sec.Priv) {
			return n, false
		}
		r := ber.NewReader(m.Cipher)
		var err error
		if content, err = r.Expect(ber.Sequence); err != nil {
			return n, false
		}
	}
	var scope ber.Scope
	var pdu ber.PDU
	if ber.DecodeScoped(content, &scope, &pdu) != nil {
		return n, false
	}
	n, ok = bundle.NoticeOf(&pdu)
	n.Version = "3"
	return n, ok
}
