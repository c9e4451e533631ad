package snmp

import (
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
	"ridethrough/sim/internal/face/usm"
)

// Inform is a notification that one receiver is to acknowledge, with the values
// that it had when it was issued.
type Inform struct {
	Kind      snap.NotifyKind
	requestID int32
	version   Version
	whole     []byte // what is sent; of SNMPv3 nil while that is still to be made
	pdu       []byte // of SNMPv3
	user      *snap.User
	level     snap.SecurityLevel
	ids       []int32 // msgIDs under which it was sent
	boots     uint32  // of the card when it was issued
}

// Inform is n for one receiver, from the present state; it counts it. The error
// is one of those of [Agent.Notification].
func (a *Agent) Inform(e Envelope, n snap.Notification) (*Inform, error) {
	e.inform = true
	i := issue{agent: a, e: e, n: n}
	if err := i.prepare(); err != nil {
		return nil, err
	}
	inform := &Inform{Kind: n.Kind, requestID: e.RequestID, version: e.Version, user: i.user, level: e.Level, boots: i.view.Dev.Card.Boots}
	if e.Version == V3 {
		inform.pdu = appendTrapV2(nil, e, i.kind, n, &i.view)
	} else {
		inform.whole = i.seal(nil)
	}
	a.counters.Add(model.OutTraps, 1)
	a.tell(i.view.Quirks, i.view.Now, i.view.Acted)
	return inform, nil
}

// Holds says whether the card can still send i: it answers, and has not started
// anew since.
func (a *Agent) Holds(i *Inform) bool {
	c := &a.source.Device().Card
	return answers(c) && c.Boots == i.boots
}

// Peer is the receiver of informs, and what is known of its engine. It is not
// safe for concurrent use.
type Peer struct {
	agent *Agent

	engine      string // "" while it is unknown
	user        *snap.User
	key         *usm.Key
	boots, time int32 // of that engine, at
	at          time.Duration
	timed       bool // they are known
	pdu         ber.PDU
}

// NewPeer is a receiver of which nothing is known.
func (a *Agent) NewPeer() *Peer { return &Peer{agent: a} }

// Forget drops what is known of the receiver's engine.
func (p *Peer) Forget() { *p = Peer{agent: p.agent} }

// Message is what to send now, so that i is acknowledged: i itself, the same
// octets every time until something new was learnt, or in SNMPv3 first a question
// for the receiver's engine. It counts what it returns as sent.
func (p *Peer) Message(i *Inform) []byte {
	out := p.message(i)
	p.agent.sent(out)
	return out
}

func (p *Peer) message(i *Inform) []byte {
	if i.version != V3 {
		return i.whole
	}
	if p.engine != "" && p.user != i.user { // the card's users have changed
		p.know(p.engine, i.user)
	}
	if p.engine == "" {
		return p.discovery(i)
	}
	if i.whole == nil {
		i.whole = p.sealed(i, p.engine, i.level, i.pdu)
	}
	return i.whole
}

// discovery asks for the receiver's engine (RFC 3414 section 4).
func (p *Peer) discovery(i *Inform) []byte {
	out, pdu := ber.Open(nil, ber.GetRequest)
	for _, field := range [...]int32{i.requestID, 0, 0} {
		out = ber.AppendInt(out, ber.Integer, int64(field))
	}
	out, list := ber.Open(out, ber.Sequence)
	out = ber.Close(ber.Close(out, list), pdu)
	return p.sealed(i, "", snap.NoAuthNoPriv, out)
}

// sealed is a message around pdu for an engine. Until that engine's time is known
// it is sent as 0, to which the engine answers with the right one.
func (p *Peer) sealed(i *Inform, engine string, level snap.SecurityLevel, pdu []byte) []byte {
	a := p.agent
	s := sealed{
		id: a.nextID(), maxSize: a.maxSize, reportable: true, level: level, key: p.key, serial: a.salt.Add(1),
		params: usm.Params{EngineID: []byte(engine)},
		scope:  ber.Scope{EngineID: []byte(engine)},
	}
	if engine != "" {
		s.params.User = []byte(i.user.Name)
	}
	if level > snap.NoAuthNoPriv {
		s.params.Boots, s.params.Time = p.boots, p.now()
	}
	i.ids = append(i.ids, s.id)
	return s.close(append(s.open(nil), pdu...))
}

// now is the time of the receiver's engine.
func (p *Peer) now() int32 {
	if !p.timed {
		return 0
	}
	return int32(min(int64(p.time)+int64((p.agent.elapsed()-p.at)/time.Second), usm.MaxCount))
}

// elapsed is real time, or simulated time where there is no other.
func (a *Agent) elapsed() time.Duration {
	if a.clock != nil {
		return a.clock()
	}
	return a.source.Now().Duration()
}

// know takes note of the receiver's engine; its time is not known yet.
func (p *Peer) know(engine string, user *snap.User) {
	p.engine, p.user, p.key = engine, user, p.agent.masters.For(user, engine)
	p.boots, p.time, p.timed = 0, 0, false
}

// learn takes note of the engine's time from an authentic message, if it is later
// than what was known (RFC 3414 section 3.2 7b).
func (p *Peer) learn(boots, time int32) bool {
	if p.timed && (boots < p.boots || boots == p.boots && time <= p.now()) {
		return false
	}
	p.boots, p.time, p.at, p.timed = boots, time, p.agent.elapsed(), true
	return true
}

// timely says whether an authentic message from the receiver is not too old.
func (p *Peer) timely(boots, time int32) bool {
	p.learn(boots, time)
	return p.boots != usm.MaxCount && boots == p.boots && int64(time) >= int64(p.now())-usm.Window
}
