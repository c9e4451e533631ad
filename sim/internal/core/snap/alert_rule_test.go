package snap

import "testing"

// TestRules: what a receiver gets goes by the class and the severity of what a
// notification tells, and the end of something goes where its beginning went.
func TestRules(t *testing.T) {
	added := func(k AlarmKind) Notification { return Notification{Kind: NotifyAlarmAdded, Alarm: k} }
	removed := func(k AlarmKind) Notification { return Notification{Kind: NotifyAlarmRemoved, Alarm: k} }
	power, urgent := AlertRule{Classes: 1 << ClassPower}, AlertRule{Least: Critical.Rank()}
	for _, tt := range []struct {
		rule  AlertRule
		n     Notification
		wants bool
	}{
		{power, added(AlarmInputBad), true}, {power, removed(AlarmInputBad), true}, {power, added(AlarmFanFailure), false},
		{power, Notification{Kind: NotifyOnBattery}, true}, {power, Notification{Kind: NotifyColdStart}, false},
		{urgent, added(AlarmInputBad), false}, {urgent, removed(AlarmOnBattery), true}, {urgent, Notification{Kind: NotifyOnBattery}, true},
		{urgent, Notification{Kind: NotifyProbeAlert, Matters: Warning.Rank()}, false}, {urgent, Notification{Kind: NotifyProbeBetter, Matters: Critical.Rank()}, true},
		{urgent, Notification{Kind: NotifyContact, Matters: Critical.Rank()}, true}, {power, Notification{Kind: NotifyContact, Matters: Critical.Rank()}, false},
		{urgent, Notification{Kind: NotifyGroupSwitched, Row: 1}, false}, {urgent, Notification{Kind: NotifyAuthFailure}, false},
		{urgent, Notification{Kind: NotifyRisen, Event: EventGroup, Row: 1}, true}, {power, Notification{Kind: NotifyRisen, Event: EventGroup, Row: 1}, false},
		{urgent, Notification{Kind: NotifyAlarmRemoved, Alarm: AlarmOnBypass, Matters: Critical.Rank()}, true},
		{urgent, Notification{Kind: NotifyTry, To: 1}, true},
		{AlertRule{Classes: 1 << ClassSecurity, Least: Warning.Rank()}, Notification{Kind: NotifyAuthFailure}, true},
		{AlertRule{Classes: 1 << ClassPower, Least: Critical.Rank()}, added(AlarmInputBad), false},
	} {
		if got := tt.rule.Wants(tt.n); got != tt.wants {
			t.Errorf("%+v wants %+v: %v", tt.rule, tt.n, got)
		}
	}
}

// TestEveryKindHasAnEvent: no kind goes past the rules because the table forgot it, and
// the zero rule, as its written form, leaves nothing out.
func TestEveryKindHasAnEvent(t *testing.T) {
	for k := NotifyKind(1); k < NotifyKinds; k++ {
		n := Notification{Kind: k, Alarm: AlarmFanFailure, Event: AlertEvent(AlarmFanFailure)}
		if n.Tells() == 0 || n.Tells() >= AlertEvents {
			t.Errorf("%v tells of %v", k, n.Tells())
		}
		if !(AlertRule{}).Wants(n) || !(AlertRule{}).Full().Wants(n) {
			t.Errorf("%v is left out", k)
		}
	}
	if (AlertRule{}).Full().Plain() != (AlertRule{}) || (AlertRule{Least: Warning.Rank()}).Plain() != (AlertRule{Least: Warning.Rank()}) {
		t.Error("a rule is not what it was")
	}
}

// TestAddressed: one that is for one receiver goes there whatever its rule says.
func TestAddressed(t *testing.T) {
	a := AlertSettings{Receivers: []Receiver{{Name: "a", AlertRule: AlertRule{Least: Critical.Rank()}}, {Name: "b"}}}
	warn := Notification{Kind: NotifyLinkDown}
	if a.Addresses(warn, a.Receivers[0]) || !a.Addresses(warn, a.Receivers[1]) {
		t.Error("a rule is not kept")
	}
	try := Notification{Kind: NotifyTry, To: 1}
	if !a.Addresses(try, a.Receivers[0]) || a.Addresses(try, a.Receivers[1]) || a.Addresses(Notification{Kind: NotifyTry, To: 3}, a.Receivers[1]) {
		t.Error("a test message goes astray")
	}
}
