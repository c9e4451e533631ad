package fleet

import (
	"fmt"
	"net/netip"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

const (
	// queued bounds the informs of one device that wait for one receiver. Of more
	// the oldest are given up: the newest tell how things are.
	queued = 16
	// corrections bounds how often one attempt is sent anew at once because the
	// receiver told something of its engine.
	corrections = 4
	// slowest bounds the time between two attempts.
	slowest = time.Minute
)

// notify sends a notification to every receiver that it is for, from the device's own socket.
func (s *shard) notify(u *unit, n snap.Notification) {
	for i := range u.group.targets {
		t := &u.group.targets[i]
		if n.To != 0 && n.To != t.number || n.To == 0 && !t.Wants(n) || n.Held(int(t.number)-1) {
			continue
		}
		u.request++
		e := snmp.Envelope{
			Version: t.version, Community: t.Community, User: t.User, Level: t.Level,
			RequestID: u.request, AgentAddr: u.Device().Card.Address.Prefix.Addr(),
		}
		if err := s.give(u, i, e, n, n.Lost(int(t.number)-1)); err != nil {
			s.fleet.complain(fmt.Sprintf("device %d: receiver %v: %v: %v", u.number, t.To, n.Kind, err))
		}
	}
}

// give has it leave for one receiver, or get lost on the card's link, as the engine says.
func (s *shard) give(u *unit, i int, e snmp.Envelope, n snap.Notification, lost bool) error {
	t := &u.group.targets[i]
	if t.Inform {
		inform, err := u.talker().Inform(e, n)
		if err == nil {
			u.post(i).put(errand{inform, lost})
		}
		return err
	}
	out, err := u.talker().Notification(s.notice, e, n)
	if err == nil {
		s.notice = out
		u.leave(out, t.endpoint, lost)
	}
	return err
}

// leave sends a notification of which the engine has said whether it gets over the link.
func (u *unit) leave(datagram []byte, to netip.AddrPort, lost bool) {
	late := time.Duration(0)
	if c := u.link(); c != nil && !lost {
		late = u.odd.wire.Late(c, "notify", false)
	}
	if !lost {
		u.send(datagram, late, func(b []byte) { u.socket.Write(b, to) })
	}
}

// errand is an inform that waits, and whether it gets lost on the link the first time.
type errand struct {
	*snmp.Inform
	lost bool
}

// post brings the informs of one device to one receiver, one after the other,
// each until it is acknowledged or given up.
type post struct {
	unit   *unit
	target *target
	peer   *snmp.Peer
	queue  []errand // the first is under way if busy

	busy    bool
	attempt uint64 // counts all attempts, so that a timer knows its own
	tries   int
	left    int // corrections
	wait    time.Duration
	why     string // it was not acknowledged
}

// post is that of the i-th target.
func (u *unit) post(i int) *post {
	if u.posts == nil {
		u.posts = make([]*post, len(u.group.targets))
	}
	if u.posts[i] == nil {
		u.posts[i] = &post{unit: u, target: &u.group.targets[i], peer: u.talker().NewPeer()}
	}
	return u.posts[i]
}

// postTo is the post whose receiver is at that endpoint and has been sent
// something; nil if there is none.
func (u *unit) postTo(from netip.AddrPort) *post {
	for _, p := range u.posts {
		if p != nil && p.busy && p.target.endpoint == from {
			return p
		}
	}
	return nil
}

// put queues i.
func (p *post) put(i errand) {
	if len(p.queue) == queued {
		at := 0
		if p.busy {
			at = 1
		}
		p.tell(p.queue[at].Kind, false, "too many wait for this receiver")
		p.queue = append(p.queue[:at:at], p.queue[at+1:]...)
	}
	p.queue = append(p.queue, i)
	if !p.busy {
		p.begin()
	}
}

// begin sends the first of the queue.
func (p *post) begin() {
	p.busy = len(p.queue) > 0
	if !p.busy {
		p.queue = nil
		return
	}
	p.tries, p.wait, p.why = 0, p.target.Timeout.Duration(), "no answer"
	p.send()
}

// send is one attempt. It waits for a refused port as for silence: the receiver
// may be mended until the next.
func (p *post) send() {
	u, i := p.unit, p.queue[0]
	if !u.agent.Holds(i.Inform) {
		p.close(false, "the card went away")
		return
	}
	if message := p.peer.Message(i.Inform); p.tries == 0 {
		u.leave(message, p.target.endpoint, i.lost)
	} else {
		p.again(message)
	}
	p.attempt++
	p.left = corrections
	mine := p.attempt
	if !u.shard.later(p.wait, func() { p.expire(mine) }) {
		p.close(false, "too much waits already")
	}
}

// again sends a message of which the engine has not said what becomes of it.
func (p *post) again(message []byte) {
	u := p.unit
	if late, ok := u.passes("notify", false); ok {
		u.send(message, late, func(b []byte) { u.socket.Write(b, p.target.endpoint) })
	}
}

// expire is the end of the time that an attempt has.
func (p *post) expire(attempt uint64) {
	if !p.busy || attempt != p.attempt {
		return
	}
	if p.tries++; p.tries > p.target.Retries {
		p.peer.Forget() // perhaps what we know of the receiver is what is wrong
		p.close(false, p.why)
		return
	}
	p.wait = min(2*p.wait, slowest)
	p.send()
}

// hear takes what the receiver sent.
func (p *post) hear(message []byte) {
	if !p.busy {
		return // it came late
	}
	i := p.queue[0].Inform
	answer, why := p.peer.Hear(message, i)
	switch {
	case answer == snmp.Acknowledged:
		p.close(true, "")
	case answer == snmp.Refused:
		p.why = why
	case answer == snmp.SendAgain && p.left > 0:
		p.left--
		p.again(p.peer.Message(i))
	}
}

// close is done with the inform under way.
func (p *post) close(acknowledged bool, why string) {
	kind := p.queue[0].Kind
	p.queue[0] = errand{}
	p.queue = p.queue[1:]
	p.attempt++
	p.tell(kind, acknowledged, why)
	p.begin()
}

// tell lets the bench know what became of an inform; not at once, for the engine
// may be in the middle of a step.
func (p *post) tell(kind snap.NotifyKind, acknowledged bool, why string) {
	p.unit.shard.later(0, func() {
		p.unit.Submit(snap.Command{
			Op: snap.OpAck, Notify: kind, OK: acknowledged, Text: why,
			By: snap.Actor{Surface: "snmp", Peer: p.target.To.String()},
		})
	})
}
