package dossier

import (
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Test is one function of a site that a hand-over has to show, and when this run did. What
// it did not show is not tested: that is a result too.
type Test struct {
	Name string
	At   vtime.Tick // when it was shown first; Never: not in this run
}

// functions are what a hand-over shows, in the order of the job, each with what in the
// events says that it was there. Common practice of acceptance tests; the alarms are
// those of RFC 1628.
var functions = []struct {
	name string
	is   func(snap.What) bool
}{
	{"Mains lost, load on battery", raised(snap.AlarmOnBattery)},
	{"Mains back, load off the battery", func(w snap.What) bool { return w.Kind == snap.WhatAlarmCleared && w.Alarm == snap.AlarmOnBattery }},
	{"Battery low", raised(snap.AlarmLowBattery)},
	{"Battery exhausted", func(w snap.What) bool { return w.Why.Cause == snap.CauseExhausted }},
	{"Hosts stopped in order", enters(snap.HostStopping)},
	{"Output switched off by order", func(w snap.What) bool { return w.Kind == snap.WhatOutputOff && w.Why.Cause == snap.CauseOrdered }},
	{"Output on again, hosts started", enters(snap.HostBooting)},
	{"Outlet group shed or switched", of(snap.WhatGroupOff)},
	{"Battery test", of(snap.WhatTestBegins)},
	{"Failed battery test", raised(snap.AlarmDiagnosticTestFailed)},
	{"Boost or reduce", func(w snap.What) bool { return w.Source == snap.SourceBooster || w.Source == snap.SourceReducer }},
	{"Bypass", raised(snap.AlarmOnBypass)},
	{"Overload", raised(snap.AlarmOutputOverload)},
	{"Generator", of(snap.WhatGenerator)},
	{"Over-temperature", raised(snap.AlarmTempBad)},
	{"Contact between card and unit lost", raised(snap.AlarmCommunicationsLost)},
	{"Card restarted", of(snap.WhatCardBoots)},
	{"Probe beyond a limit", issues(snap.NotifyProbeAlert)},
	{"Contact changed", issues(snap.NotifyContact)},
	{"Notifications issued", func(w snap.What) bool { return w.Kind == snap.WhatNotify || w.Kind == snap.WhatNotifyEnded }},
	{"Sign-in at the card", of(snap.WhatSignIn)},
	{"Schedule", of(snap.WhatSchedule)},
	{"Firmware changed", of(snap.WhatFirmware)},
}

func of(k snap.WhatKind) func(snap.What) bool {
	return func(w snap.What) bool { return w.Kind == k }
}

func raised(k snap.AlarmKind) func(snap.What) bool {
	return func(w snap.What) bool { return w.Kind == snap.WhatAlarmRaised && w.Alarm == k }
}

func enters(s snap.HostState) func(snap.What) bool {
	return func(w snap.What) bool { return w.Kind == snap.WhatHost && w.Host == s }
}

func issues(k snap.NotifyKind) func(snap.What) bool {
	return func(w snap.What) bool { return w.Kind == snap.WhatNotify && w.Notify == k }
}

// tests are the functions, and when the run showed each; delivered messages are
// counted by last.
func tests(r *report.Result, last *snap.Site) []Test {
	list := make([]Test, 0, len(functions)+2)
	for _, f := range functions {
		t := Test{f.name, vtime.Never}
		for i := range r.Events {
			e := &r.Events[i]
			if e.Tick > 0 && f.is(e.What) {
				t.At = e.Tick
				break
			}
		}
		list = append(list, t)
	}
	posted := last.Posted()
	for _, m := range []struct {
		name string
		n    int
	}{{"Mail delivered", posted.Mail.Delivered}, {"Syslog delivered", posted.Syslog.Delivered}} {
		t := Test{m.name, vtime.Never}
		if m.n > 0 {
			t.At = r.Ended
		}
		list = append(list, t)
	}
	return list
}
