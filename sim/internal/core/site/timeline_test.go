package site_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// notes are the notes of the timeline, with their times.
func notes(r *playtest.Run) []string {
	var list []string
	for line := range strings.Lines(r.Trace()) {
		if at, text, ok := strings.Cut(strings.TrimSpace(line), " note: "); ok {
			list = append(list, at+" "+text)
		}
	}
	return list
}

// TestTimeline: an entry with a time happens at it; one with a condition when it
// first holds after the entries before it, each once, chains in one instant too.
func TestTimeline(t *testing.T) {
	r := playtest.Start(t, head+one+`
[[at]]
when = "t_s >= 0"
note = "at the start"
[[at]]
time = "1m"
note = "minute"
source = "lost"
[[at]]
when = "ups.on_battery"
note = "same instant"
charge_pct = 50
[[at]]
when = "battery.charge_pct <= 50"
note = "same instant too"
[[at]]
when = "source.good"
note = "good again"
[[at]]
when = "t_s > 5"
note = "held all the time, but others were before it"
[[at]]
time = "5m"
note = "five"
source = "normal"
`).To(10 * min)
	want := []string{
		"0:00:00.000 at the start", "0:01:00.000 minute", "0:01:00.000 same instant", "0:01:00.000 same instant too",
		"0:05:00.000 five", "0:05:00.000 good again", "0:05:00.000 held all the time, but others were before it",
	}
	if diff := cmp.Diff(want, notes(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestDisturbance: one that lasts ends by itself with what was before; a later
// word takes it over.
func TestDisturbance(t *testing.T) {
	r := playtest.Start(t, head+one).To(min).Inject(`source = {volts = 240}`).Inject(`source = {sag_pct = 80, lasts = "300ms"}`)
	volts := func(want float64) {
		t.Helper()
		if got := r.Site.Feed.Volts; got != want {
			t.Errorf("at %v: %v V, want %v", r.Engine.Now(), got, want)
		}
	}
	volts(184)
	r.To(min + 300*ms - ms)
	volts(184)
	r.To(min + 300*ms)
	volts(240)
	r.Inject(`source = {volts = 200, lasts = "10s"}`).To(2 * min).Inject(`source = {volts = 0, lasts = "5s"}`).To(2*min + 4*sec)
	r.Inject(`source = "normal"`).To(2*min + 6*sec)
	volts(230)
}

// TestConditionsSeeTheEstimate: a threshold that a new estimate steps over is met
// at that instant, not a grid step later.
func TestConditionsSeeTheEstimate(t *testing.T) {
	r := playtest.Start(t, head+one+"[[at]]\nwhen = \"ups.runtime_min < 20\"\nnote = \"short\"\n").To(100 * sec)
	r.Inject("host = \"db\"\ndraw_w = 1500")
	if diff := cmp.Diff([]string{"0:01:40.000 short"}, notes(r)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestEveryChangeIsSeen: what the card shows is never older than the instant.
func TestEveryChangeIsSeen(t *testing.T) {
	r := playtest.Start(t, head+one).Write(snap.VarAudible, 1)
	if r.Site.Config.Audible != snap.AudibleDisabled {
		t.Error("a set is not seen at once")
	}
	r.Write(snap.VarStartupAfter, 5).To(5 * sec) // nothing happens but its end
	if r.Site.Control.StartupAt <= r.Site.Tick {
		t.Errorf("at %v the countdown still ends at %v", r.Site.Tick, r.Site.Control.StartupAt)
	}
}
