package study

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// The texts of events are for people: whatever they say, a study finds the same.
func TestTextsOfEventsDecideNothing(t *testing.T) {
	p, err := NewPlayer(quick())
	if err != nil {
		t.Fatal(err)
	}
	var reasons strings.Builder
	for run := 1; run <= 100; run++ {
		for version := range p.molds {
			made, draws, err := p.Plan(version, run)
			if err != nil {
				t.Fatal(err)
			}
			as, worded := outcomes(t, made, draws)
			if diff := cmp.Diff(as, worded); diff != "" {
				t.Errorf("run %d, version %d: %s", run, version, diff)
			}
			for _, w := range as.Why {
				reasons.WriteString(w.Text + "\n")
			}
		}
	}
	for _, want := range []string{"running, not told to stop: ", "stopping: ", "the output went off: "} {
		if !strings.Contains(reasons.String(), want) {
			t.Errorf("no run has the reason %q: this test shows less than it should", want)
		}
	}
}

// outcomes is what two observers make of a run, the second with other texts.
func outcomes(t *testing.T, p *plan.Plan, draws []float64) (as, worded Outcome) {
	t.Helper()
	e, frame, err := engine.New(p, nil)
	if err != nil {
		t.Fatal(err)
	}
	a, b := newObserver(p), newObserver(p)
	for {
		a.see(&frame)
		for i := range frame.Events {
			frame.Events[i].Subject, frame.Events[i].Text = "host "+p.Hosts[0].Name, snap.HostCut.String()
		}
		b.see(&frame)
		if e.Ended() {
			break
		}
		frame = e.Step(p.RunFor)
	}
	verdicts := e.Finish()
	return a.outcome(frame.Site, verdicts, draws), b.outcome(frame.Site, verdicts, draws)
}

// What is said of a host between two states of it is no state: one that draws more
// while it stops has been stopping for as long as before.
func TestHostIsInItsState(t *testing.T) {
	const second = vtime.Second
	p := &plan.Plan{Hosts: []plan.Host{{Name: "db", Stop: 60 * second}}}
	o := newObserver(p)
	s := &snap.Site{Hosts: make([]snap.Host, 1)}
	o.see(&engine.Frame{Site: s, Events: []site.Event{
		{Tick: 10 * second, What: snap.What{Kind: snap.WhatHost, Host: snap.HostStopping}},
		{Tick: 20 * second, Subject: "host db", Text: "draws 500.0 W", What: snap.What{Kind: snap.WhatHostElse}},
		{Tick: 30 * second, What: snap.What{Kind: snap.WhatHost, Host: snap.HostCut}},
	}})
	got := o.outcome(s, nil, nil)
	if got.Margin == nil || got.Margin.Seconds != -40 || len(got.Why) != 1 || got.Why[0].Text != "stopping: its supply was lost" {
		t.Errorf("%+v, margin %+v", got, got.Margin)
	}
}

// What took the outlets is told once: a group that goes off with the output, or
// because it was shed, has no reason of its own.
func TestWhatTookTheOutlets(t *testing.T) {
	off := snap.What{Kind: snap.WhatGroupOff}
	shed := snap.What{Kind: snap.WhatGroupShed, Why: snap.Why{Text: "too long"}}
	output := snap.What{Kind: snap.WhatOutputOff, Why: snap.Why{Text: "ordered"}}
	for want, list := range map[string][]snap.What{
		"running, not told to stop: the output went off: ordered":                  {output, off},
		"running, not told to stop: group racks was shed: too long":                {shed, off},
		"running, not told to stop: group racks went off":                          {off},
		"running, not told to stop: a gap of its supply was more than it holds up": {output, {Kind: snap.WhatHostGap}},
	} {
		p := &plan.Plan{Hosts: []plan.Host{{Name: "db"}}, Groups: []plan.Group{{Name: "racks"}}}
		o, s := newObserver(p), &snap.Site{Hosts: make([]snap.Host, 1)}
		f := &engine.Frame{Site: s}
		for _, w := range append(list, snap.What{Kind: snap.WhatHost, Host: snap.HostCut}) {
			f.Events = append(f.Events, site.Event{Tick: vtime.Second, What: w})
		}
		o.see(f)
		if got := o.outcome(s, nil, nil).Why; len(got) != 1 || got[0].Text != want {
			t.Errorf("%+v, want %q", got, want)
		}
	}
}
