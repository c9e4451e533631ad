package engine_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// phases are the times of branch from which on nothing happens for a while: at
// rest, on battery between two notifications, and charging, each with the
// shutdown manager's polls and open expectations.
var phases = map[string]vtime.Tick{"rest": 20 * vtime.Hour, "battery": min + 5*sec, "charging": 45 * min}

// steady is a run that has come to a phase.
func steady(t testing.TB, at vtime.Tick) *engine.Engine {
	e, _ := newEngine(t, load(t, day()))
	for e.Now() < at {
		e.Step(at)
	}
	return e
}

// TestSteadyStepsAllocateNothing: a fleet of runs leaves no garbage while nothing
// happens.
func TestSteadyStepsAllocateNothing(t *testing.T) {
	for name, at := range phases {
		e := steady(t, at)
		events := 0
		allocs := testing.AllocsPerRun(40, func() { events += len(e.Step(e.Next()).Events) })
		if allocs != 0 || events != 0 {
			t.Errorf("%s: %v allocations a step, %d events", name, allocs, events)
		}
	}
}

// longPhases are sites like branch that stay in a phase for days.
func longPhases() map[string]string {
	patient := strings.NewReplacer(`run_for = "45m"`, `run_for = "1000h"`, `on_battery_for = "2m"`, `on_battery_for = "24h"`,
		`source = "normal"`, `note = "no return"`).Replace(branch)
	calm := strings.Replace(patient, `source = "lost"`, `note = "no outage"`, 1)
	return map[string]string{
		"rest":     calm,
		"battery":  patient + "[battery]\nstrings = 20\n",
		"charging": calm + "[battery]\nstrings = 20\ncharge_pct = 10\ncharge_a = 1\n",
	}
}

// BenchmarkStep is one step of a site with eight hosts, a shutdown manager that
// polls, and open expectations.
func BenchmarkStep(b *testing.B) {
	for name, src := range longPhases() {
		p := load(b, src)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			e, steps := intoPhase(b, p), 0
			for b.Loop() {
				f := e.Step(e.Next())
				steps++
				if on, full := f.Site.UPS.Source == snap.SourceBattery, f.Site.ChargePct > 99; on == (name == "battery") && !(name == "charging" && full) {
					continue
				}
				if steps < 1000 {
					b.Fatalf("%s is over at %v", name, e.Now())
				}
				b.StopTimer() // once more from its beginning
				e, steps = intoPhase(b, p), 0
				b.StartTimer()
			}
		})
	}
}

func intoPhase(b *testing.B, p *plan.Plan) *engine.Engine {
	b.Helper()
	e, _ := newEngine(b, p)
	for range 400 {
		e.Step(e.Next())
	}
	return e
}

func benchmarkRun(b *testing.B, p *plan.Plan) {
	b.ReportAllocs()
	steps := 0
	for b.Loop() {
		e, _ := newEngine(b, p)
		steps = 0
		engine.Run(e, func(engine.Frame) { steps++ })
	}
	b.ReportMetric(float64(steps), "steps/run")
}

// BenchmarkOutage is 45 minutes with eight hosts and an outage of 34.
func BenchmarkOutage(b *testing.B) { benchmarkRun(b, load(b, branch)) }

// BenchmarkDay is the same over 24 hours.
func BenchmarkDay(b *testing.B) { benchmarkRun(b, load(b, day())) }
