package card

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// gap is the least time between two notifications of one kind (RFC 1628:
// no one notification more often than once per five seconds to one receiver).
const gap = 5 * vtime.Second

// outbox holds notifications until they may leave. It is bounded: of one alarm
// it holds at most the removal of a row that was announced, and the insertion
// and removal of the latest row; what came and went unannounced before is merged
// into those. So the receiver ends with the final state, and for every row that
// it heard of it hears the end.
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

// put issues n. What says the same and still waits goes, with what followed it
// about the same alarm. Notifications that the standard does not have
// (RFC 1628 upsTrapAlarmEntryAdded, upsTrapAlarmEntryRemoved) are left out.
func (o *outbox) put(n snap.Notification) {
	inserted := n.Kind == snap.NotifyAlarmAdded
	if n.Alarm == snap.AlarmTestInProgress || inserted && n.Alarm == snap.AlarmOnBattery {
		return
	}
	if n.Kind != snap.NotifyAlarmRemoved {
		o.merge(n)
	}
	o.waiting = append(o.waiting, n)
}

// merge takes out the first that says the same as n, and all behind it about
// the same alarm. On battery again, an all-clear that still waits is not true.
func (o *outbox) merge(n snap.Notification) {
	kept, found := o.waiting[:0], n.Kind == snap.NotifyOnBattery
	for _, w := range o.waiting {
		found = found || w.Kind == n.Kind && w.Alarm == n.Alarm
		if !found || about(w) != about(n) || about(n) == 0 && w.Kind != n.Kind {
			kept = append(kept, w)
		}
	}
	o.waiting = kept
}

// about is the alarm whose coming or going n tells, 0 if it tells neither.
func about(n snap.Notification) snap.AlarmKind {
	if n.Kind == snap.NotifyOnBattery {
		return snap.AlarmOnBattery
	}
	return n.Alarm
}

// flush sends, in order, all that may leave at now: its kind has been silent
// for so long, and nothing older about the same alarm waits.
func (o *outbox) flush(now, silent vtime.Tick, send func(snap.Notification)) {
	var held [snap.AlarmKinds]bool
	kept := o.waiting[:0]
	for _, n := range o.waiting {
		if now < o.last[n.Kind]+silent || held[about(n)] && about(n) != 0 {
			held[about(n)] = true
			kept = append(kept, n)
			continue
		}
		o.last[n.Kind] = now
		send(n)
	}
	o.waiting = kept
}

// deadline is when something may leave next, after a flush at now: what could
// have left and did not waits behind something else.
func (o *outbox) deadline(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	for _, n := range o.waiting {
		if at := o.last[n.Kind] + gap; at > now {
			next = min(next, at)
		}
	}
	return next
}
