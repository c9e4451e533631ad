package snmp

import (
	"crypto/subtle"
	"errors"
	"fmt"
	"sync/atomic"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// Receiver takes notifications of any version apart, as a manager does that keeps
// them. It is safe for concurrent use.
//
// Of traps of SNMPv3, whose sender is the authoritative engine, it takes each engine
// that knows a user's passwords, and does not look at their time: simulated engines go
// fast. Of informs it is the authority itself (RFC 3414 section 3.2).
type Receiver struct {
	community string      // "": any will do
	users     []snap.User // of SNMPv3
	masters   usm.Masters
	engine    string
	counts    [model.CounterEnd]atomic.Uint32
	salt      atomic.Uint64
}

// NewReceiver is a receiver with an engine of that name. community "" takes all
// communities.
func NewReceiver(name, community string, users []snap.User) *Receiver {
	return &Receiver{community: community, users: users, engine: usm.EngineID(name)}
}

// Heard is what became of one datagram.
type Heard struct {
	Arrival *snap.Arrival // nil: it is no notification
	Why     string        // it is turned away, in a line; "": it is taken
	Reply   []byte        // a report that goes back at once, whatever else
	// PDU is the notification itself, nil of SNMPv1. It alone shares the octets of the
	// datagram.
	PDU    *ber.PDU
	inform *answerable
}

// answerable is an inform that waits for its acknowledgement.
type answerable struct {
	version   int32
	community []byte
	id        int32
	raw       []byte
	sec       *sealed
}

// What is wrong with a datagram.
var (
	errNoNotification = errors.New("no notification")
	errNoIdentity     = errors.New("a notification that does not say what it is")
)

// Hear takes a datagram apart; elapsed is for how many seconds the receiver has been
// there. The error is for one that is no message. What Heard holds does not alias b,
// which is changed, but for its PDU.
func (r *Receiver) Hear(b []byte, elapsed int32) (Heard, error) {
	version, err := versionOf(b)
	switch {
	case err != nil:
		return Heard{}, err
	case version == ber.V3:
		return r.hear3(b, elapsed)
	case version == ber.V1:
		return r.hear1(b)
	}
	var m ber.Message
	if err := m.Decode(b); err != nil {
		return Heard{}, err
	}
	h, err := heard(&m.PDU, "v2c")
	if err != nil {
		return h, err
	}
	if h.Why = r.stranger(m.Community); h.Why == "" && h.Arrival.Inform {
		h.inform = &answerable{version: ber.V2c, community: append([]byte(nil), m.Community...), id: m.PDU.RequestID, raw: append([]byte(nil), m.PDU.Raw...)}
	}
	return h, nil
}

func versionOf(b []byte) (int32, error) {
	r := ber.NewReader(b)
	content, err := r.Expect(ber.Sequence)
	if err != nil {
		return 0, err
	}
	r = ber.NewReader(content)
	return r.Int32()
}

func (r *Receiver) stranger(community []byte) string {
	if r.community != "" && subtle.ConstantTimeCompare(community, []byte(r.community)) != 1 {
		return "another community"
	}
	return ""
}

// hear1 takes a trap of SNMPv1. Its identity in SNMPv2 is that of RFC 3584 section 3.1,
// or, where that names none that we know, without the 0 that the translation the other
// way may have lost.
func (r *Receiver) hear1(b []byte) (Heard, error) {
	var t ber.Trap1
	if err := t.Decode(b); err != nil {
		return Heard{}, err
	}
	oid := t.Enterprise.Child(0, uint32(t.Specific))
	if t.Generic != enterpriseSpecific {
		oid = snmpTraps.Child(uint32(t.Generic) + 1)
	} else if short := t.Enterprise.Child(uint32(t.Specific)); snap.NotifyByOID(short.String()) != 0 {
		oid = short
	}
	return Heard{Arrival: arrival(oid, t.PDU.VarBinds, "v1"), Why: r.stranger(t.Community)}, nil
}

const enterpriseSpecific = 6 // RFC 1157 section 4.1.6

var snmpTraps = ber.OID{1, 3, 6, 1, 6, 3, 1, 1, 5}

// heard is the notification in a PDU of SNMPv2 (RFC 3416 section 4.2.6).
func heard(p *ber.PDU, version string) (Heard, error) {
	if p.Type != ber.TrapV2 && p.Type != ber.InformRequest {
		return Heard{}, errNoNotification
	}
	if len(p.VarBinds) < 2 || !p.VarBinds[1].Name.Equal(trapOID.Child(0)) || p.VarBinds[1].Value.Tag != ber.ObjectID {
		return Heard{}, errNoIdentity
	}
	a := arrival(p.VarBinds[1].Value.OID, p.VarBinds[2:], version)
	if a.Inform = p.Type == ber.InformRequest; a.Inform {
		a.Key = fmt.Sprint(p.RequestID)
	}
	return Heard{Arrival: a, PDU: p}, nil
}

// arrival is a notification as a sink keeps it: its name, what it is about and its
// variables.
func arrival(oid ber.OID, list []ber.VarBind, version string) *snap.Arrival {
	a := &snap.Arrival{Version: version, OID: oid.String(), Subject: oid.String()}
	if k := snap.NotifyByOID(a.OID); k != 0 {
		a.Subject = k.String()
	}
	about, rest := "", ""
	for i := range list {
		if len(about)+len(rest) > snap.MaxArrivalText {
			break
		}
		v := &list[i].Value
		if k := alarmOf(v); k != "" {
			about += k + " "
		}
		rest += list[i].Name.String() + " = " + shownValue(v) + "\n"
	}
	a.Text = about + rest
	return a
}

// alarmOf is the name of the alarm that a value points at.
func alarmOf(v *ber.Value) string {
	if v.Tag != ber.ObjectID || len(v.OID) == 0 {
		return ""
	}
	k := snap.AlarmKind(v.OID[len(v.OID)-1])
	if k > 0 && k < snap.AlarmKinds && v.OID.Equal(model.Alarm(k).OID) {
		return k.String()
	}
	return ""
}

func shownValue(v *ber.Value) string {
	switch v.Tag {
	case ber.ObjectID:
		return v.OID.String()
	case ber.OctetString, ber.Opaque:
		return fmt.Sprintf("%q", v.Bytes)
	case ber.IPAddress:
		return fmt.Sprintf("%d.%d.%d.%d", v.Bytes[0], v.Bytes[1], v.Bytes[2], v.Bytes[3])
	case ber.Counter64:
		return fmt.Sprint(uint64(v.Int))
	}
	return fmt.Sprint(v.Int)
}

// Answer is the answer to an inform with that error-status, to another one with off
// added to its number; nil where none is due.
func (h *Heard) Answer(status int64, off int32) []byte {
	i := h.inform
	if i == nil {
		return nil
	}
	if i.sec != nil {
		return i.sec.close(appendResponse(i.sec.open(nil), i, status, off))
	}
	out, whole := ber.Open(nil, ber.Sequence)
	out = ber.AppendInt(out, ber.Integer, int64(i.version))
	out = ber.AppendString(out, ber.OctetString, i.community)
	return ber.Close(appendResponse(out, i, status, off), whole)
}

func appendResponse(out []byte, i *answerable, status int64, off int32) []byte {
	out, pdu := ber.Open(out, ber.Response)
	for _, field := range [...]int64{int64(i.id + off), status, 0} {
		out = ber.AppendInt(out, ber.Integer, field)
	}
	return ber.Close(ber.AppendString(out, ber.Sequence, i.raw), pdu)
}
