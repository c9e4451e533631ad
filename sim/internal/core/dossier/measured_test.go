package dossier

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestCycles: a stop with its start, a cut in the middle of a stop, a cut without a
// stop, and a second cycle.
func TestCycles(t *testing.T) {
	const n = vtime.Never
	const a, b, c = 0, 1, 2
	r := &report.Result{Hosts: []snap.Host{{Name: "a"}, {Name: "b"}, {Name: "c"}}}
	for _, e := range []struct {
		at   vtime.Tick
		host int
		to   snap.HostState
	}{
		{10, a, snap.HostStopping}, {20, b, snap.HostStopping}, {25, c, snap.HostCut}, {30, a, snap.HostStopped}, {40, b, snap.HostCut},
		{50, a, snap.HostOff}, {60, a, snap.HostBooting}, {60, b, snap.HostBooting}, {70, a, snap.HostRunning}, {80, a, snap.HostStopping},
	} {
		r.Events = append(r.Events, report.Event{Tick: e.at, What: snap.What{Kind: snap.WhatHost, Of: e.host, Host: e.to}})
	}
	r.Events = append(r.Events, report.Event{Tick: 65, What: snap.What{Kind: snap.WhatHostWaits, Of: b}}, report.Event{Tick: 90, Subject: "host a", Text: "cut"})
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

// TestCutsAreSummed: a host that is cut a thousand times is one deviation, and one that is
// cut once is told as ever.
func TestCutsAreSummed(t *testing.T) {
	var list []Cycle
	for i := range 1000 {
		list = append(list, Cycle{Host: "files", Cut: vtime.Tick(1000 * (i + 1))})
	}
	list = append(list, Cycle{Host: "mail", Cut: 5000}, Cycle{Host: "web", Cut: vtime.Never})
	want := []string{
		"Host files lost its power at work 1000 times, first at 0:00:01.000, last at 0:16:40.000.",
		"Host mail lost its power at work, at 0:00:05.000.",
	}
	if got := cuts(list); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}
