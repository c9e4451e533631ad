package snap

// AlertRule is what a receiver of notifications gets. The zero one gets everything.
type AlertRule struct {
	Classes AlertSet // 0: all
	Least   Rank     // 0: from info on
}

// Wants says whether the notification fits the rule. One that somebody asked for always
// does.
func (r AlertRule) Wants(n Notification) bool {
	e := n.Tells()
	if e == EventTry || e == 0 {
		return true
	}
	matters := n.Matters
	if n.Kind == NotifyRisen {
		matters = Critical.Rank()
	}
	if matters == 0 {
		matters = e.Alert().Severity.Rank()
	}
	return (r.Classes == 0 || r.Classes.Has(e.Alert().Class)) && matters >= r.Least
}

// Plain is r with the zero values for what leaves nothing out, so that equal rules are
// the same.
func (r AlertRule) Plain() AlertRule {
	if r.Classes == EveryClass {
		r.Classes = 0
	}
	if r.Least == Info.Rank() {
		r.Least = 0
	}
	return r
}

// Full is r with every class and the severity written out.
func (r AlertRule) Full() AlertRule {
	if r.Classes == 0 {
		r.Classes = EveryClass
	}
	if r.Least == 0 {
		r.Least = Info.Rank()
	}
	return r
}

// Tells is the event of the card that n tells of: what begins, and what ends, of the
// alarm that it names if it names one. It is 0 for a kind that does not exist.
func (n Notification) Tells() AlertEvent {
	switch n.Kind {
	case NotifyAlarmAdded, NotifyAlarmRemoved:
		return AlertEvent(n.Alarm)
	case NotifyOnBattery:
		return AlertEvent(AlarmOnBattery)
	case NotifyRisen:
		return n.Event
	case NotifyProbeAlert, NotifyProbeBetter:
		return EventProbe
	}
	return eventsOf[n.Kind%NotifyKinds]
}

// eventsOf has the kinds that always tell of the same.
var eventsOf = [NotifyKinds]AlertEvent{
	NotifyTestCompleted: EventTestEnded, NotifyColdStart: EventStarted, NotifyWarmStart: EventStarted, NotifyAuthFailure: EventCommunity,
	NotifyLinkDown: EventLinkDown, NotifyLinkUp: EventLinkDown, NotifyGroupSwitched: EventGroup, NotifyContact: EventContact, NotifyTry: EventTry,
}

// Rank is a severity in one octet, a greater one for what matters more; a fleet has many.
// 0 is none.
type Rank uint8

// String is the word for r.
func (r Rank) String() string {
	return nameOf([]string{"none", string(Info), string(Warning), string(Critical)}, int(r))
}

// Rank is that of s.
func (s Severity) Rank() Rank { return Rank(s.rank() + 1) }
