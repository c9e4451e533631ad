package site_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
)

// TestLossOnTheLink: row 8 of the needs. Of a link that loses everything nobody hears, of
// one that loses a part some; what is drawn is the same again, and a good link draws nothing.
func TestLossOnTheLink(t *testing.T) {
	run := func(pct string) *playtest.Run {
		src := managed + "on_battery_for = \"60s\"\n[monitor]\npoll_every = \"10s\"\n[network]\nloss_pct = " + pct + "\n"
		return playtest.Start(t, src).Inject(lost).To(30 * min)
	}
	if r := run("0"); r.Site.Monitor.Unanswered != 0 || r.Site.Net.Lost != 0 || r.Site.Shutdowns != 1 {
		t.Errorf("%+v, lost %d", r.Site.Monitor, r.Site.Net.Lost)
	}
	if r := run("100"); r.Site.Monitor.Answered != 0 || r.Site.Net.Lost == 0 || r.Site.Shutdowns != 0 {
		t.Errorf("%+v, %d shutdowns", r.Site.Monitor, r.Site.Shutdowns)
	}
	a, b := run("30"), run("30")
	if m := a.Site.Monitor; m.Answered == 0 || m.Unanswered == 0 || a.Site.Shutdowns != 1 || a.Trace() != b.Trace() || a.Site.Net.Lost != b.Site.Net.Lost {
		t.Errorf("%+v, %d shutdowns", m, a.Site.Shutdowns)
	}
}

// TestLossChanges: the timeline makes a link good again.
func TestLossChanges(t *testing.T) {
	r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n[network]\nloss_pct = 100\n[monitor]\npoll_every = \"10s\"\n").To(5 * min)
	if r.Site.Monitor.Answered != 0 || !r.Site.Monitor.ContactLost {
		t.Fatalf("%+v", r.Site.Monitor)
	}
	r.Inject("network = { loss_pct = 0 }").To(10 * min)
	if m := r.Site.Monitor; m.Answered < 29 || m.ContactLost || r.Count("link loses 0 %") != 1 {
		t.Errorf("%+v", m)
	}
}
