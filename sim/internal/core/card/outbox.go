package card

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// gap is the least time between two notifications of one kind (RFC 1628:
// no one notification more often than once per five seconds to one receiver). Of
// our own notifications each row counts by itself, and each receiver of a test.
const gap = 5 * vtime.Second

// outbox holds notifications until they may leave. It is bounded: of one alarm
// it holds at most the removal of a row that was announced, and the insertion
// and removal of the latest row; what came and went unannounced before is merged
// into those. So the receiver ends with the final state, and for every row that
// it heard of it hears the end. Of the link, a group or a probe it holds at most
// the two latest.
type outbox struct {
	waiting  []snap.Notification // in the order in which they were issued
	recent   []departure         // that still keep others waiting
	sent     snap.Sent
	repeatAt vtime.Tick // next on-battery notification
}

// departure is a notification that left, and when others of its kind may.
type departure struct {
	kind  snap.NotifyKind
	row   uint8
	to    uint8
	until vtime.Tick
}

func newOutbox() outbox { return outbox{repeatAt: vtime.Never} }

// carrying keeps the bench's count over a restart of the agent.
func (o outbox) carrying(sent snap.Sent) outbox {
	o.sent = sent
	return o
}

// put issues n. What says the same and still waits goes, with what followed it
// about the same subject. Notifications that the standard does not have
// (RFC 1628 upsTrapAlarmEntryAdded, upsTrapAlarmEntryRemoved) are left out.
func (o *outbox) put(n snap.Notification) {
	inserted := n.Kind == snap.NotifyAlarmAdded
	if n.Alarm == snap.AlarmTestInProgress || inserted && n.Alarm == snap.AlarmOnBattery {
		return
	}
	if n.Kind != snap.NotifyAlarmRemoved {
		n.Matters = max(n.Matters, o.merge(n))
	}
	o.waiting = append(o.waiting, n)
}

// merge takes out the first that says the same as n, and all behind it about
// the same subject. On battery again, an all-clear that still waits is not true. It
// says how much the most important of them matters: who has heard of the worst has to
// hear what became of it.
func (o *outbox) merge(n snap.Notification) (matters snap.Rank) {
	kept, found := o.waiting[:0], n.Kind == snap.NotifyOnBattery
	for _, w := range o.waiting {
		found = found || w.Kind == n.Kind && w.Alarm == n.Alarm && w.Row == n.Row && w.To == n.To
		if !found || about(w) != about(n) || about(n) == 0 && (w.Kind != n.Kind || w.To != n.To) {
			kept = append(kept, w)
			continue
		}
		matters = max(matters, w.Matters)
	}
	o.waiting = kept
	return matters
}

// drop takes out what waits and is not true any more.
func (o *outbox) drop(untrue func(snap.Notification) bool) {
	o.waiting = slices.DeleteFunc(o.waiting, untrue)
}

// subject is what the order of notifications matters for; 0 is none.
type subject uint8

// Subjects behind those of the alarms, which are the kinds.
const (
	theLink      = subject(snap.AlarmKinds)
	firstGroup   = theLink + 1
	firstProbe   = firstGroup + snap.MaxGroups
	firstContact = firstProbe + snap.MaxProbes
	subjects     = firstContact + snap.MaxContacts
)

// about is what n tells the state of.
func about(n snap.Notification) subject {
	switch n.Kind {
	case snap.NotifyOnBattery:
		return subject(snap.AlarmOnBattery)
	case snap.NotifyLinkDown, snap.NotifyLinkUp:
		return theLink
	case snap.NotifyGroupSwitched:
		return firstGroup + subject(n.Row) - 1
	case snap.NotifyProbeAlert, snap.NotifyProbeBetter:
		return firstProbe + subject(n.Row) - 1
	case snap.NotifyContact:
		return firstContact + subject(n.Row) - 1
	case snap.NotifyRisen:
		return aboutRisen(n)
	}
	return subject(n.Alarm)
}

// aboutRisen is the same of a warning that has lasted.
func aboutRisen(n snap.Notification) subject {
	if n.Alarm == 0 && n.Row > 0 {
		switch n.Event {
		case snap.EventGroup:
			return firstGroup + subject(n.Row) - 1
		case snap.EventProbe, snap.EventProbeLost:
			return firstProbe + subject(n.Row) - 1
		case snap.EventContact, snap.EventContactFault:
			return firstContact + subject(n.Row) - 1
		}
	}
	return subject(n.Alarm)
}

// flush sends, in order, all that may leave at now: its kind has been silent
// for so long, and nothing older about the same subject waits. If free nothing waits, and
// early are those that would have.
func (o *outbox) flush(now, silent vtime.Tick, free bool, send func(n snap.Notification, early bool)) {
	o.forget(now)
	var held [subjects]bool
	kept := o.waiting[:0]
	for _, n := range o.waiting {
		early := o.quietUntil(n) > now
		if !free && (early || held[about(n)] && about(n) != 0) {
			held[about(n)] = true
			kept = append(kept, n)
			continue
		}
		o.left(n, now+silent)
		send(n, early)
	}
	o.waiting = kept
}

// left has others of n's kind and row wait until then.
func (o *outbox) left(n snap.Notification, until vtime.Tick) {
	for i := range o.recent {
		if d := &o.recent[i]; d.kind == n.Kind && d.row == n.Row && d.to == n.To {
			d.until = max(d.until, until)
			return
		}
	}
	o.recent = append(o.recent, departure{n.Kind, n.Row, n.To, until})
}

// forget drops what does not keep anything waiting any longer.
func (o *outbox) forget(now vtime.Tick) {
	kept := o.recent[:0]
	for _, d := range o.recent {
		if d.until > now {
			kept = append(kept, d)
		}
	}
	o.recent = kept
}

// quietUntil is when the last of n's kind and row lets n leave.
func (o *outbox) quietUntil(n snap.Notification) (at vtime.Tick) {
	for _, d := range o.recent {
		if d.kind == n.Kind && d.row == n.Row && d.to == n.To {
			at = max(at, d.until)
		}
	}
	return at
}

// deadline is when something may leave next, after a flush at now: what could
// have left and did not waits behind something else.
func (o *outbox) deadline(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	for _, n := range o.waiting {
		if at := o.quietUntil(n); at > now {
			next = min(next, at)
		}
	}
	return next
}
