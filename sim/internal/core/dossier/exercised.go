package dossier

import (
	"strings"

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
// events says that it was there: the beginning of the subject and a part of the text.
// Common practice of acceptance tests; the alarms are those of RFC 1628.
var functions = []struct{ name, subject, text string }{
	{"Mains lost, load on battery", "alarm", "on_battery raised"},
	{"Mains back, load off the battery", "alarm", "on_battery cleared"},
	{"Battery low", "alarm", "low_battery raised"},
	{"Battery exhausted", "output", "exhausted"},
	{"Hosts stopped in order", "host", "stopping"},
	{"Output switched off by order", "output", "off: ordered"},
	{"Output on again, hosts started", "host", "booting"},
	{"Outlet group shed or switched", "group", "off"},
	{"Battery test", "test", "started"},
	{"Failed battery test", "alarm", "diagnostic_test_failed raised"},
	{"Boost or reduce", "output", "boost"},
	{"Bypass", "alarm", "on_bypass raised"},
	{"Overload", "alarm", "output_overload raised"},
	{"Generator", "generator", ""},
	{"Over-temperature", "alarm", "temp_bad raised"},
	{"Contact between card and unit lost", "alarm", "communications_lost raised"},
	{"Card restarted", "card", "booting"},
	{"Probe beyond a limit", "notify", "probe_alert"},
	{"Contact changed", "notify", "contact_changed"},
	{"Notifications issued", "notify", ""},
	{"Sign-in at the card", "sign-in", ""},
	{"Schedule", "schedule", ""},
	{"Firmware changed", "firmware", ""},
}

// tests are the functions, and when the run showed each; delivered messages are
// counted by last.
func tests(r *report.Result, last *snap.Site) []Test {
	list := make([]Test, 0, len(functions)+2)
	for _, f := range functions {
		t := Test{f.name, vtime.Never}
		for i := range r.Events {
			e := &r.Events[i]
			if e.Tick > 0 && strings.HasPrefix(e.Subject, f.subject) && strings.Contains(e.Text, f.text) {
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
