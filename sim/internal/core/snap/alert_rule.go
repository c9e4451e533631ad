package snap

// AlertRule is what a receiver of notifications gets. The zero one gets everything.
type AlertRule struct {
	Classes AlertSet // 0: all
	Least   Severity // empty: from info on
}

// Wants says whether the notification fits the rule. One that somebody asked for always
// does.
func (r AlertRule) Wants(n Notification) bool {
	e := n.Event()
	if e == EventTry || e == 0 {
		return true
	}
	matters := n.Matters
	if matters == "" {
		matters = e.Alert().Severity
	}
	return (r.Classes == 0 || r.Classes.Has(e.Alert().Class)) && matters.AtLeast(r.Least)
}

// Plain is r with the zero values for what leaves nothing out, so that equal rules are
// the same.
func (r AlertRule) Plain() AlertRule {
	if r.Classes == EveryClass {
		r.Classes = 0
	}
	if r.Least == Info {
		r.Least = ""
	}
	return r
}

// Full is r with every class and the severity written out.
func (r AlertRule) Full() AlertRule {
	if r.Classes == 0 {
		r.Classes = EveryClass
	}
	if r.Least == "" {
		r.Least = Info
	}
	return r
}

// Event is the event of the card that n tells of: what begins, and what ends, of the
// alarm that it names if it names one. It is 0 for a kind that does not exist.
func (n Notification) Event() AlertEvent {
	switch n.Kind {
	case NotifyAlarmAdded, NotifyAlarmRemoved:
		return AlertEvent(n.Alarm)
	case NotifyOnBattery:
		return AlertEvent(AlarmOnBattery)
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

// Greater is that of the two which matters more.
func (s Severity) Greater(other Severity) Severity {
	if other.rank() > s.rank() {
		return other
	}
	return s
}
