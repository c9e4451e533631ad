package snmp

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// request3 is a request of SNMPv3 as it goes through the checks.
type request3 struct {
	msg    ber.V3Message
	sec    usm.Params
	level  snap.SecurityLevel
	scope  ber.Scope
	opened bool // the PDU could be read
	ring   *keyring
	user   *snap.User
	key    *usm.Key
}

// levels is the security level of the flags. What claims privacy without
// authentication contradicts itself (RFC 3412 section 7.2).
func levelOf(flags byte) (level snap.SecurityLevel, ok bool) {
	switch flags & (ber.FlagAuth | ber.FlagPriv) {
	case 0:
		return snap.NoAuthNoPriv, true
	case ber.FlagAuth:
		return snap.AuthNoPriv, true
	case ber.FlagAuth | ber.FlagPriv:
		return snap.AuthPriv, true
	}
	return 0, false
}

// handle3 answers a message of SNMPv3 (RFC 3412 section 7.2). The request is
// changed while it is worked on.
func (w *worker) handle3(request, out []byte) []byte {
	if k := w.read3(request); k != 0 {
		w.counters.Add(k, 1)
		return out
	}
	if k, level := w.secure(request); k != 0 {
		w.accuse3(k)
		return w.report(out, k, level)
	}
	r := &w.r3
	if !r.opened && !w.openScope() {
		return w.garbled(out)
	}
	if k := w.misdirected(); k != 0 {
		return w.report(out, k, r.level)
	}
	if !w.isRequest() {
		return out
	}
	if w.views, w.permitted = &r.user.Views, r.level >= r.user.Level; !w.permitted {
		w.agent.accuse(w.view.Now, w.caller, snap.USMNotPermitted)
	}
	return w.answer(out)
}

// garbled is what comes of a message that makes no sense. One that was encrypted had
// another privacy password.
func (w *worker) garbled(out []byte) []byte {
	switch r := &w.r3; {
	case r.level != snap.AuthPriv:
	case r.ring.access.ReportGarbled:
		w.accuse3(model.DecryptionErrors)
		return w.report(out, model.DecryptionErrors, snap.NoAuthNoPriv)
	default:
		w.accuse3(model.InASNParseErrs)
	}
	w.counters.Add(model.InASNParseErrs, 1)
	return out
}

// accuse3 has the journal tell of what was counted, if that is a matter of who asks and
// no step of finding out which engine this is.
func (w *worker) accuse3(k model.Counter) {
	if f := model.FaultOf(k); f != snap.USMOpen && len(w.r3.sec.User) > 0 {
		w.agent.accuse(w.view.Now, w.caller, f)
	}
}

// read3 takes the message apart. It is the counter of what is wrong with it, or
// 0; such a message gets no answer.
func (w *worker) read3(request []byte) model.Counter {
	r := &w.r3
	r.ring, r.user, r.key, r.opened = w.agent.keys(&w.view.Dev.Card), nil, nil, false
	r.sec, r.scope = usm.Params{}, ber.Scope{}
	if r.msg.Decode(request) != nil {
		return model.InASNParseErrs
	}
	if r.msg.Model != userBased {
		return model.UnknownSecurityModels
	}
	var ok bool
	if r.level, ok = levelOf(r.msg.Flags); !ok {
		return model.InvalidMsgs
	}
	if r.sec.Decode(r.msg.Security) != nil {
		return model.InASNParseErrs
	}
	if r.msg.Plain == nil && r.level != snap.AuthPriv {
		return model.InASNParseErrs
	}
	r.opened = r.msg.Plain != nil && ber.DecodeScoped(r.msg.Plain, &r.scope, &w.msg.PDU) == nil
	return 0
}

// secure is the checks of the user-based security model in their order (RFC 3414
// section 3.2 steps 3 to 8). It is the counter of the first that fails, or 0, and
// the level at which that is to be reported.
func (w *worker) secure(request []byte) (model.Counter, snap.SecurityLevel) {
	r := &w.r3
	if string(r.sec.EngineID) != string(r.ring.engine) {
		return model.UnknownEngineIDs, snap.NoAuthNoPriv
	}
	if r.user, r.key = r.ring.find(r.sec.User, w.agent.masters); r.user == nil {
		return model.UnknownUserNames, snap.NoAuthNoPriv
	}
	if r.level > r.user.Highest() {
		return model.UnsupportedSecLevels, snap.NoAuthNoPriv
	}
	if r.level == snap.NoAuthNoPriv {
		return 0, 0
	}
	if !r.key.Verify(request, r.sec.Auth) {
		return model.WrongDigests, snap.NoAuthNoPriv
	}
	if !usm.InWindow(w.boots(), int32(w.engine.Time), r.sec.Boots, r.sec.Time) {
		return model.NotInTimeWindows, snap.AuthNoPriv
	}
	if r.level == snap.AuthPriv && (r.msg.Cipher == nil || !r.key.Decrypt(r.msg.Cipher, r.sec.Boots, r.sec.Time, r.sec.Priv)) {
		return model.DecryptionErrors, snap.NoAuthNoPriv
	}
	return 0, 0
}

func (w *worker) boots() int32 { return bootsOf(&w.view.Dev.Card) }

// bootsOf is snmpEngineBoots, which stops at its greatest value.
func bootsOf(c *snap.Card) int32 { return int32(min(model.Boots(c), usm.MaxCount)) }

// openScope reads what was decrypted, or says that it is not a scoped PDU. DES
// leaves padding behind it.
func (w *worker) openScope() bool {
	r := &w.r3
	if r.msg.Cipher == nil {
		return false
	}
	data := ber.NewReader(r.msg.Cipher)
	content, err := data.Expect(ber.Sequence)
	r.opened = err == nil && ber.DecodeScoped(content, &r.scope, &w.msg.PDU) == nil
	return r.opened
}

// misdirected is the counter of a request that is not for the objects of this
// engine's default context, or that nobody here serves; else 0.
func (w *worker) misdirected() model.Counter {
	r := &w.r3
	confirmed := w.msg.PDU.Type.IsConfirmed()
	switch {
	case confirmed && string(r.scope.EngineID) != string(r.ring.engine):
		return model.UnknownPDUHandlers
	case w.msg.PDU.Type == ber.InformRequest:
		return model.UnknownPDUHandlers
	case confirmed && len(r.scope.Context) > 0:
		return model.UnknownContexts
	}
	return 0
}

// report counts k and answers with its counter, if the message asked for an
// answer: by its PDU if that could be read, else by its flag (RFC 3412 section
// 7.1 step 3).
func (w *worker) report(out []byte, k model.Counter, level snap.SecurityLevel) []byte {
	w.counters.Add(k, 1)
	r := &w.r3
	id := int64(0)
	if r.opened {
		if !w.msg.PDU.Type.IsConfirmed() {
			return out
		}
		id = int64(w.msg.PDU.RequestID)
	} else if r.msg.Flags&ber.FlagReportable == 0 {
		return out
	}
	s := w.seal(level)
	s.scope = ber.Scope{EngineID: r.ring.engine}
	out = s.open(out)
	out, pdu := ber.Open(out, ber.Report)
	for _, field := range [...]int64{id, 0, 0} {
		out = ber.AppendInt(out, ber.Integer, field)
	}
	out, list := ber.Open(out, ber.Sequence)
	out, binding := ber.Open(out, ber.Sequence)
	out = ber.AppendOID(out, model.Report(k), 0)
	out = ber.AppendInt(out, ber.Counter32, int64(w.counters.Load(k)))
	w.reported = true
	return s.close(ber.Close(ber.Close(ber.Close(out, binding), list), pdu))
}

// seal is the outside of an answer at that level.
func (w *worker) seal(level snap.SecurityLevel) *sealed {
	r := &w.r3
	w.sealed = sealed{
		id: r.msg.ID, maxSize: w.agent.maxSize, level: level, key: r.key, serial: w.agent.salt.Add(1),
		params: usm.Params{EngineID: r.ring.engine, Boots: w.boots(), Time: int32(w.engine.Time), User: r.sec.User},
		scope:  r.scope,
	}
	return &w.sealed
}
