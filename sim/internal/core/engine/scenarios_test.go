package engine_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
)

const (
	ms  = vtime.Millisecond
	sec = vtime.Second
	min = vtime.Minute
)

// branch is a site of eight hosts with a shutdown manager, an outage of 34
// minutes, and expectations over all of it. The figures are invented.
var branch = `
title = "branch"
seed = 7
run_for = "45m"
[card]
address = "192.0.2.10/24"
` + hosts() + `
[policy]
on_battery_for = "2m"
runtime_below = "5m"
confirm = 2
off_delay = "30s"
[[at]]
time = "1m"
source = "lost"
[[at]]
time = "35m"
source = "normal"
[[at]]
when = "battery.charge_pct < 80 and not source.good"
note = "deep"
[[expect]]
name = "nobody is cut"
that = "hosts_cut == 0"
always = true
[[expect]]
name = "stopped in time"
that = "hosts_stopped == 8"
within = "10m"
after = "ups.on_battery"
[[expect]]
name = "volts"
that = "battery.volts < 58"
never = true
`

func hosts() string {
	var b strings.Builder
	for _, name := range strings.Fields("a b c d e f g h") {
		b.WriteString("[[host]]\nname = \"" + name + "\"\ndraw_w = 120\nstop_takes = \"90s\"\nboot_takes = \"2m\"\n")
	}
	return b.String()
}

// day is the same over 24 hours.
func day() string { return strings.Replace(branch, `run_for = "45m"`, `run_for = "24h"`, 1) }

func load(t testing.TB, src string) *plan.Plan {
	t.Helper()
	p, err := scenario.Load("test.toml", []byte(src), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func newEngine(t testing.TB, p *plan.Plan) (*engine.Engine, engine.Frame) {
	t.Helper()
	e, first, err := engine.New(p, scenario.Injector(p))
	if err != nil {
		t.Fatal(err)
	}
	e.CompileWith(scenario.Conditions(p))
	return e, first
}

// play is the trace of p, with extra stops, which must be ascending.
func play(t testing.TB, p *plan.Plan, stops ...vtime.Tick) (text string, last engine.Frame) {
	t.Helper()
	var b strings.Builder
	w := trace.New(&b, p)
	e, first := newEngine(t, p)
	each := func(f engine.Frame) {
		w.Frame(f.Events, f.Site)
		last = f
	}
	each(first)
	for _, stop := range append(stops, p.RunFor) {
		for e.Now() < stop {
			each(e.Step(stop))
		}
	}
	w.End(last.Site)
	return b.String(), last
}

// events are the lines of a trace that are no readings.
func events(text string) []string {
	var lines []string
	for line := range strings.Lines(text) {
		if !strings.Contains(line, " = ") {
			lines = append(lines, line)
		}
	}
	return lines
}

// shipped are the scenarios of the repository by file name.
func shipped(t testing.TB) map[string]*plan.Plan {
	t.Helper()
	plans := map[string]*plan.Plan{}
	for _, f := range checks.Scenarios(t) {
		src, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		plans[filepath.Base(f)] = load(t, string(src))
	}
	return plans
}
