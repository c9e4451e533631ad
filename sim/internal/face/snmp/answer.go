package snmp

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// Answer is what a message from the receiver of an inform comes to.
type Answer uint8

// Answers.
const (
	NoAnswer     Answer = iota // not about this inform, or not to be trusted
	Acknowledged               // it arrived
	Refused                    // the receiver will have none of it, as things are
	SendAgain                  // something was learnt: send at once what Message now is
)

// Hear takes a message from the receiver and says what it means for i, with the
// reason of a refusal in words.
func (p *Peer) Hear(message []byte, i *Inform) (answer Answer, why string) {
	p.agent.counters.Add(model.InPkts, 1)
	p.agent.counters.Add(model.InOctets, len(message))
	if i.version == V3 {
		return p.hear3(message, i)
	}
	var m ber.Message
	if m.Decode(message) != nil || m.Version != int32(i.version) || m.PDU.Type != ber.Response || m.PDU.RequestID != i.requestID {
		return NoAnswer, ""
	}
	return p.response(&m.PDU)
}

// response is what a response comes to.
func (p *Peer) response(pdu *ber.PDU) (Answer, string) {
	p.agent.counters.Add(model.InGetResponses, 1)
	if status := Status(pdu.Status); status != NoError {
		return Refused, fmt.Sprintf("the receiver answered with error-status %d", status)
	}
	return Acknowledged, ""
}

// hear3 is Hear for SNMPv3.
func (p *Peer) hear3(message []byte, i *Inform) (Answer, string) {
	var m ber.V3Message
	var sec usm.Params
	if m.Decode(message) != nil || m.Model != userBased || !slices.Contains(i.ids, m.ID) || sec.Decode(m.Security) != nil {
		return NoAnswer, ""
	}
	level, ok := levelOf(m.Flags)
	if !ok || level > i.level || level > snap.NoAuthNoPriv && !p.authentic(message, &sec) {
		return NoAnswer, ""
	}
	pdu, ok := p.open(&m, &sec, level)
	switch {
	case !ok:
		return NoAnswer, ""
	case pdu.Type == ber.Report:
		return p.report(i, pdu, &sec, level)
	case pdu.Type != ber.Response || pdu.RequestID != i.requestID || level != i.level || string(sec.EngineID) != p.engine:
		return NoAnswer, ""
	case level > snap.NoAuthNoPriv && !p.timely(sec.Boots, sec.Time):
		return NoAnswer, ""
	}
	return p.response(pdu)
}

// authentic says whether the message is from the engine that we know and was
// signed with the user's key.
func (p *Peer) authentic(message []byte, sec *usm.Params) bool {
	return p.engine != "" && string(sec.EngineID) == p.engine && string(sec.User) == p.user.Name &&
		p.key.Verify(message, sec.Auth)
}

// open decrypts and decodes.
func (p *Peer) open(m *ber.V3Message, sec *usm.Params, level snap.SecurityLevel) (*ber.PDU, bool) {
	content := m.Plain
	if level == snap.AuthPriv {
		if m.Cipher == nil || !p.key.Decrypt(m.Cipher, sec.Boots, sec.Time, sec.Priv) {
			return nil, false
		}
		r := ber.NewReader(m.Cipher)
		var err error
		if content, err = r.Expect(ber.Sequence); err != nil {
			return nil, false
		}
	}
	var scope ber.Scope
	return &p.pdu, content != nil && ber.DecodeScoped(content, &scope, &p.pdu) == nil
}

// report is what a Report comes to. One without authentication is believed as far
// as the standard has it: which engine answers (RFC 3414 section 4).
func (p *Peer) report(i *Inform, pdu *ber.PDU, sec *usm.Params, level snap.SecurityLevel) (Answer, string) {
	if len(pdu.VarBinds) == 0 {
		return NoAnswer, ""
	}
	switch name := pdu.VarBinds[0].Name; {
	case reports(name, model.UnknownEngineIDs):
		return p.otherEngine(i, string(sec.EngineID))
	case reports(name, model.NotInTimeWindows):
		if level == snap.NoAuthNoPriv {
			return NoAnswer, ""
		}
		if !p.timely(sec.Boots, sec.Time) {
			return Refused, "the receiver's engine went back in time"
		}
		i.whole = nil
		return SendAgain, ""
	default:
		return Refused, refusal(name)
	}
}

// otherEngine takes note of the engine that answers in place of the one that was
// asked.
func (p *Peer) otherEngine(i *Inform, engine string) (Answer, string) {
	if len(engine) < usm.MinEngineID || len(engine) > usm.MaxEngineID || engine == p.engine {
		return NoAnswer, ""
	}
	p.know(engine, i.user)
	i.whole = nil
	return SendAgain, ""
}

func reports(name ber.OID, k model.Counter) bool { return name.HasPrefix(model.Report(k)) }

// refusal is a Report's counter in words.
func refusal(name ber.OID) string {
	for k, why := range map[model.Counter]string{
		model.UnknownUserNames:     "the receiver does not know the user",
		model.WrongDigests:         "the receiver has another authentication password or protocol",
		model.DecryptionErrors:     "the receiver has another privacy password or protocol",
		model.UnsupportedSecLevels: "the receiver has no keys for the security level",
		model.UnknownPDUHandlers:   "the receiver does not take informs",
		model.UnknownContexts:      "the receiver does not know the context",
	} {
		if reports(name, k) {
			return why
		}
	}
	return "the receiver reports " + name.String()
}
