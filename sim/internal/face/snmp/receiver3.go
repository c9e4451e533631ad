package snmp

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// sinkBoots is snmpEngineBoots of a receiver, which never restarts in its life.
const sinkBoots = 1

// incoming is a message of SNMPv3 as it goes through the checks.
type incoming struct {
	msg   ber.V3Message
	sec   usm.Params
	level snap.SecurityLevel
	scope ber.Scope
	pdu   ber.PDU
	user  *snap.User
	key   *usm.Key
	now   int32
}

// hear3 takes a message of SNMPv3, or answers it with a report.
func (r *Receiver) hear3(b []byte, elapsed int32) (Heard, error) {
	m := incoming{now: elapsed}
	if err := m.msg.Decode(b); err != nil {
		return Heard{}, err
	}
	var ok bool
	if m.level, ok = levelOf(m.msg.Flags); !ok || m.msg.Model != userBased || m.sec.Decode(m.msg.Security) != nil {
		return Heard{}, errNoNotification
	}
	if k, level := r.check(&m, b); k != 0 {
		return r.refuse(&m, k, level), nil
	}
	h, err := heard(&m.pdu, "v3")
	if err != nil {
		return h, err
	}
	h.Arrival.From = m.user.Name
	if h.Arrival.Inform {
		s := r.sealed(&m, m.level)
		s.scope = ber.Scope{EngineID: append([]byte(nil), m.scope.EngineID...), Context: append([]byte(nil), m.scope.Context...)}
		h.inform = &answerable{version: ber.V3, id: m.pdu.RequestID, raw: append([]byte(nil), m.pdu.Raw...), sec: s}
	}
	return h, nil
}

// check is the checks of RFC 3414 section 3.2 in their order: the counter of the first
// that fails, or 0, and the level at which that is to be reported.
func (r *Receiver) check(m *incoming, b []byte) (model.Counter, snap.SecurityLevel) {
	own := string(m.sec.EngineID) == r.engine
	if n := len(m.sec.EngineID); !own && (m.msg.Flags&ber.FlagReportable != 0 || n < usm.MinEngineID || n > usm.MaxEngineID) {
		return model.UnknownEngineIDs, snap.NoAuthNoPriv
	}
	for i := range r.users {
		if r.users[i].Name == string(m.sec.User) {
			m.user = &r.users[i]
		}
	}
	if m.user == nil {
		return model.UnknownUserNames, snap.NoAuthNoPriv
	}
	if m.level > m.user.Highest() || m.level < m.user.Level {
		return model.UnsupportedSecLevels, snap.NoAuthNoPriv
	}
	if k, level := r.authentic(m, b, own); k != 0 {
		return k, level
	}
	if !m.open() {
		return model.DecryptionErrors, snap.NoAuthNoPriv
	}
	return 0, 0
}

func (r *Receiver) authentic(m *incoming, b []byte, own bool) (model.Counter, snap.SecurityLevel) {
	if m.level == snap.NoAuthNoPriv {
		return 0, 0
	}
	m.key = r.masters.For(m.user, string(m.sec.EngineID))
	if !m.key.Verify(b, m.sec.Auth) {
		return model.WrongDigests, snap.NoAuthNoPriv
	}
	if own && !usm.InWindow(sinkBoots, m.now, m.sec.Boots, m.sec.Time) {
		return model.NotInTimeWindows, snap.AuthNoPriv
	}
	if m.level == snap.AuthPriv && (m.msg.Cipher == nil || !m.key.Decrypt(m.msg.Cipher, m.sec.Boots, m.sec.Time, m.sec.Priv)) {
		return model.DecryptionErrors, snap.NoAuthNoPriv
	}
	return 0, 0
}

// open reads the scoped PDU.
func (m *incoming) open() bool {
	content := m.msg.Plain
	if m.level == snap.AuthPriv {
		data := ber.NewReader(m.msg.Cipher)
		var err error
		if content, err = data.Expect(ber.Sequence); err != nil {
			return false
		}
	}
	return content != nil && ber.DecodeScoped(content, &m.scope, &m.pdu) == nil
}

// refuse is a report, if the message asks for one, and why the message is not taken.
// A question for the engine is no message that anybody waits for.
func (r *Receiver) refuse(m *incoming, k model.Counter, level snap.SecurityLevel) Heard {
	h := Heard{}
	if k != model.UnknownEngineIDs && k != model.NotInTimeWindows {
		h.Arrival, h.Why = &snap.Arrival{Version: "v3", From: string(m.sec.User), Subject: "unreadable"}, wrong3[k]
	}
	if m.msg.Flags&ber.FlagReportable == 0 {
		return h
	}
	s := r.sealed(m, level)
	s.scope = ber.Scope{EngineID: []byte(r.engine)}
	out, pdu := ber.Open(s.open(nil), ber.Report)
	for range 3 {
		out = ber.AppendInt(out, ber.Integer, 0)
	}
	out, list := ber.Open(out, ber.Sequence)
	out, binding := ber.Open(out, ber.Sequence)
	out = ber.AppendOID(out, model.Report(k), 0)
	out = ber.AppendInt(out, ber.Counter32, int64(r.counts[k].Add(1)))
	h.Reply = s.close(ber.Close(ber.Close(ber.Close(out, binding), list), pdu))
	return h
}

var wrong3 = map[model.Counter]string{
	model.UnknownUserNames: "nobody knows the user", model.UnsupportedSecLevels: "another security level",
	model.WrongDigests: "another authentication password", model.DecryptionErrors: "it cannot be decrypted",
}

// sealed is the outside of an answer at that level.
func (r *Receiver) sealed(m *incoming, level snap.SecurityLevel) *sealed {
	return &sealed{
		id: m.msg.ID, maxSize: DefaultMaxSize, level: level, key: m.key, serial: r.salt.Add(1),
		params: usm.Params{EngineID: []byte(r.engine), Boots: sinkBoots, Time: m.now, User: append([]byte(nil), m.sec.User...)},
	}
}
