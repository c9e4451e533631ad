package snmp

import (
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// Delivery is how a reply leaves. The zero value is: at once, once, from the
// socket that was asked.
type Delivery struct {
	After     time.Duration // real time from now
	Twice     bool
	Elsewhere bool          // from another port of the same address
	Hold      time.Duration // behind the next reply, or after this time if there is none; 0: not held
}

// oddities is what an agent keeps for quirks.
type oddities struct {
	dice model.Dice
	acts [snap.QuirkKinds]act
	lane lane
}

// oddities is made when it is first needed: most agents of a fleet never do.
func (a *Agent) oddities() *oddities {
	if o := a.odd.Load(); o != nil {
		return o
	}
	a.odd.CompareAndSwap(nil, new(oddities))
	return a.odd.Load()
}

// longest bounds what slow-objects makes of one reply.
const longest = time.Minute

// oddAnswer is Answer for a card with quirks.
func (a *Agent) oddAnswer(dev *snap.Device, now vtime.Tick, request []byte, caller Caller, out []byte) ([]byte, Delivery) {
	q, odd := dev.Card.Quirks, a.oddities()
	if lost := odd.loses(q); lost != 0 {
		a.tell(q, now, bit(lost))
		return out, Delivery{}
	}
	single := q.Of(snap.QuirkOneAtATime)
	if single != nil && !odd.lane.enter(a.elapsed(), single.Count) {
		a.tell(q, now, bit(single.Kind))
		return out, Delivery{}
	}
	w := workers.Get().(*worker)
	defer workers.Put(w)
	w.view.Dice = &odd.dice
	w.oddID = odd.dice.Hits(q, snap.QuirkWrongRequestID)
	out = w.reply(a, dev, now, request, caller, out)
	how := Delivery{}
	if len(out) > 0 {
		out = w.damage(out)
		how = w.deliver()
	}
	how.After = w.takes()
	if single != nil {
		how.After = odd.lane.leave(a.elapsed(), how.After+single.Delay.Duration())
	}
	if w.msg.Version == ber.V3 {
		w.noteEngine()
	}
	a.tell(q, now, w.view.Acted)
	return out, how
}

// noteEngine notes the quirks that show in every message of SNMPv3.
func (w *worker) noteEngine() {
	q, boots := w.view.Quirks, w.view.Dev.Card.Boots
	for _, k := range [...]snap.QuirkKind{snap.QuirkBootsNotKept, snap.QuirkEngineTimeStuck, snap.QuirkSharedEngineID} {
		if q.Of(k) != nil && (k != snap.QuirkBootsNotKept || boots > 1) {
			w.view.Acted.Add(k)
		}
	}
}

// loses says which quirk keeps a request from ever being seen, 0 if none.
func (o *oddities) loses(q *snap.Quirks) snap.QuirkKind {
	switch {
	case q.Of(snap.QuirkHung) != nil:
		return snap.QuirkHung
	case o.dice.Hits(q, snap.QuirkLossy):
		return snap.QuirkLossy
	}
	return 0
}

// oddRefusal is why a quirk has the request not answered as it should be.
func (w *worker) oddRefusal() fault {
	q := w.view.Quirks
	if w.msg.PDU.Type == ber.GetBulkRequest && q.Of(snap.QuirkNoBulk) != nil {
		w.view.Acted.Add(snap.QuirkNoBulk)
		return fault{silence, 0}
	}
	for _, above := range [...]struct {
		kind   snap.QuirkKind
		status Status
	}{{snap.QuirkSilentAbove, silence}, {snap.QuirkTooBigAbove, TooBig}} {
		if one := q.Of(above.kind); one != nil && w.asked() > int64(one.Count) {
			w.view.Acted.Add(one.Kind)
			return fault{above.status, 0}
		}
	}
	return fault{}
}

// replyID is the request-id of the reply.
func (w *worker) replyID() int32 {
	id := w.msg.PDU.RequestID
	if w.view.Quirks != nil && w.oddID {
		w.view.Acted.Add(snap.QuirkWrongRequestID)
		return id ^ 1
	}
	return id
}

// asked is for how many variables the request asks.
func (w *worker) asked() int64 {
	p := &w.msg.PDU
	n := int64(len(p.VarBinds))
	if p.Type != ber.GetBulkRequest {
		return n
	}
	single := min(max(int64(p.Status), 0), n)
	return single + (n-single)*int64(w.repetitions())
}

// repetitions is how often a get-bulk request repeats at most.
func (w *worker) repetitions() int32 {
	n := max(w.msg.PDU.Index, 0)
	if n > 1 && w.view.Quirks.Of(snap.QuirkOneRowBulk) != nil {
		w.view.Acted.Add(snap.QuirkOneRowBulk)
		return 1
	}
	return n
}

// variables is how many there are in the reply.
func (w *worker) variables() int {
	if w.returned > 0 {
		return w.returned
	}
	return max(len(w.msg.PDU.VarBinds), 1)
}

// takes is how long the card needs for the reply.
func (w *worker) takes() time.Duration {
	one := w.view.Quirks.Of(snap.QuirkSlowObjects)
	if one == nil {
		return 0
	}
	w.view.Acted.Add(one.Kind)
	return min(time.Duration(w.variables())*one.Delay.Duration(), longest)
}

// deliver is how the reply leaves, apart from when.
func (w *worker) deliver() (how Delivery) {
	q := w.view.Quirks
	how.Elsewhere = w.hits(snap.QuirkWrongSource)
	how.Twice = w.hits(snap.QuirkDuplicated)
	if w.hits(snap.QuirkReordered) {
		how.Hold = q.Of(snap.QuirkReordered).Delay.Duration()
	}
	return how
}

// hits throws for a quirk that touches some replies only.
func (w *worker) hits(k snap.QuirkKind) bool {
	hit := w.view.Dice.Hits(w.view.Quirks, k)
	if hit {
		w.view.Acted.Add(k)
	}
	return hit
}

// damage does to the message what quirks ask for. What it comes to is never longer
// by more than it was.
func (w *worker) damage(out []byte) []byte {
	if w.hits(snap.QuirkMalformed) {
		malform(out, w.view.Dice.Throw(w.view.Quirks, snap.QuirkMalformed))
	}
	if w.hits(snap.QuirkTruncated) && len(out) > 1 {
		throw := w.view.Dice.Throw(w.view.Quirks, snap.QuirkTruncated)
		out = out[:1+int(throw*float64(len(out)-1))]
	}
	return out
}

// malform makes the message no BER of SNMP, in one of three ways.
func malform(out []byte, throw float64) {
	header := 2
	if out[1]&0x80 != 0 {
		header += int(out[1] & 0x7f)
	}
	switch int(throw * 3) {
	case 0:
		out[0] = byte(ber.OctetString) // in place of a SEQUENCE
	case 1:
		out[header-1]++ // the length, which goes beyond the end; past 255 it falls short
	default:
		out[header] = byte(ber.Null) // in place of the INTEGER of the version
	}
}
