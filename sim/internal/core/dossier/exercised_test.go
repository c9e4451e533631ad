package dossier

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// The texts of events are for people: whatever they say, a report finds the same.
func TestTextsOfEventsDecideNothing(t *testing.T) {
	shown := map[string]bool{}
	for _, name := range []string{
		"incidents/29-debounce-eats-the-margin", "incidents/21-weak-block-test", "incidents/30-brown-out-mailed", "overload-to-bypass",
		"probe-commissioning", "login-server-behind-a-dark-switch", "schedule-missing-hour", "update-not-tried", "every-alarm", "eco-on-generator",
		"card-fitted-live",
	} {
		p, r, last := played(t, name+".toml")
		worded := *r
		worded.Events = slices.Clone(r.Events)
		for i := range worded.Events {
			worded.Events[i].Subject, worded.Events[i].Text = "host x", "in other words"
		}
		if diff := cmp.Diff(found(p, r, last), found(p, &worded, last)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
		for _, x := range tests(r, last) {
			shown[x.Name] = shown[x.Name] || x.At != vtime.Never
		}
	}
	for _, f := range functions {
		if !shown[f.name] {
			t.Errorf("%q was shown by none of these scenarios", f.name)
		}
	}
}

type findings struct {
	Tests  []Test
	Cycles []Cycle
	Budget *Budget
}

func found(p *plan.Plan, r *report.Result, last *snap.Site) findings {
	c := cycles(r)
	return findings{tests(r, last), c, budgeted(p, r, c)}
}

// played is a shipped scenario, and what came of it.
func played(t *testing.T, name string) (*plan.Plan, *report.Result, *snap.Site) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "scenarios", name))
	if err != nil {
		t.Fatal(err)
	}
	p, err := scenario.Load(name, text, scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	e, frame, err := engine.New(p, scenario.Injector(p))
	if err != nil {
		t.Fatal(err)
	}
	r := report.NewRecorder(p, name, "")
	for {
		r.Frame(frame.Events, frame.Site)
		if e.Ended() {
			return p, r.Finish(frame.Site, e.Finish(), false), frame.Site
		}
		frame = e.Step(p.RunFor)
	}
}
