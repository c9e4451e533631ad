package card

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// gap is the least time between two notifications of one kind (RFC 1628:
// no one notification more often than once per five seconds to one receiver).
const gap = 5 * vtime.Second

// outbox holds notifications until they may leave. It is bounded: of one alarm
// it never holds more than one insertion and one removal.
type outbox struct {
	waiting  []snap.Notification // in the order in which they were issued
	last     [snap.NotifyKinds]vtime.Tick
	sent     snap.Sent
	repeatAt vtime.Tick // next on-battery notification
}

func newOutbox() outbox {
	o := outbox{repeatAt: vtime.Never}
	for i := range o.last {
		o.last[i] = -gap
	}
	return o
}

// carrying keeps the bench's count over a restart of the agent.
func (o outbox) carrying(sent snap.Sent) outbox {
	o.sent = sent
	return o
}

// put issues n; what says the same and still waits is replaced by it.
func (o *outbox) put(n snap.Notification) {
	o.drop(func(w snap.Notification) bool { return w.Kind == n.Kind })
	o.waiting = append(o.waiting, n)
}

// putAlarm issues an insertion or removal. The pair before it, if it still
// waits, is merged into it: the receiver ends with the final state.
func (o *outbox) putAlarm(n snap.Notification) {
	if n.Alarm == snap.AlarmTestInProgress || n.Kind == snap.NotifyAlarmAdded && n.Alarm == snap.AlarmOnBattery {
		return // RFC 1628 upsTrapAlarmEntryAdded, upsTrapAlarmEntryRemoved
	}
	if n.Kind == snap.NotifyAlarmAdded && o.holds(snap.NotifyAlarmAdded, n.Alarm) {
		o.drop(func(w snap.Notification) bool { return w.Alarm == n.Alarm })
	}
	o.drop(func(w snap.Notification) bool { return w.Alarm == n.Alarm && w.Kind == n.Kind })
	o.waiting = append(o.waiting, n)
}

func (o *outbox) holds(kind snap.NotifyKind, alarm snap.AlarmKind) bool {
	for _, w := range o.waiting {
		if w.Kind == kind && w.Alarm == alarm {
			return true
		}
	}
	return false
}

func (o *outbox) drop(which func(snap.Notification) bool) {
	kept := o.waiting[:0]
	for _, w := range o.waiting {
		if !which(w) {
			kept = append(kept, w)
		}
	}
	o.waiting = kept
}

// flush sends, in order, all that may leave at now: its kind has been silent
// for the gap, and nothing older about the same alarm waits.
func (o *outbox) flush(now vtime.Tick, send func(snap.Notification)) {
	var held [snap.AlarmKinds]bool
	kept := o.waiting[:0]
	for _, n := range o.waiting {
		if now < o.last[n.Kind]+gap || n.Alarm != 0 && held[n.Alarm] {
			held[n.Alarm] = true
			kept = append(kept, n)
			continue
		}
		o.last[n.Kind] = now
		o.sent[n.Kind]++
		send(n)
	}
	o.waiting = kept
}

// deadline is when something may leave next.
func (o *outbox) deadline() vtime.Tick {
	next := vtime.Never
	for _, n := range o.waiting {
		next = min(next, o.last[n.Kind]+gap)
	}
	return next
}
