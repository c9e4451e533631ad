package dossier

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/vtime"
)

// TestCycles: a stop with its start, a cut in the middle of a stop, a cut without a
// stop, and a second cycle.
func TestCycles(t *testing.T) {
	const n = vtime.Never
	r := &report.Result{}
	for _, e := range []struct {
		at   vtime.Tick
		host string
		text string
	}{
		{10, "a", "stopping"}, {20, "b", "stopping"}, {25, "c", "cut"}, {30, "a", "stopped"}, {40, "b", "cut"},
		{50, "a", "off"}, {60, "a", "booting"}, {60, "b", "booting"}, {65, "b", "booting waits for what it needs"}, {70, "a", "running"}, {80, "a", "stopping"},
	} {
		r.Events = append(r.Events, report.Event{Tick: e.at, Subject: "host " + e.host, Text: e.text})
	}
	want := []Cycle{
		{"a", 10, 30, n, 60, 70},
		{"b", 20, n, 40, 60, n},
		{"c", n, n, 25, n, n},
		{"a", 80, n, n, n, n},
	}
	if diff := cmp.Diff(want, cycles(r)); diff != "" {
		t.Error(diff)
	}
	for i, how := range []string{"clean", "cut", "cut", "not stopped"} {
		if got := want[i].How(); got != how {
			t.Errorf("cycle %d: %s, want %s", i, got, how)
		}
	}
}

// TestSpan reads like people write.
func TestSpan(t *testing.T) {
	for tick, want := range map[vtime.Tick]string{
		0: "0 s", 300: "300 ms", 90 * vtime.Second: "1 min 30 s", vtime.Hour: "1 h", vtime.Never: "none",
		25*vtime.Hour + 1: "25 h 1 ms",
	} {
		if got := span(tick); got != want {
			t.Errorf("%d: %q, want %q", tick, got, want)
		}
	}
}
