package engine_test

import (
	"testing"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
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

func BenchmarkStep(b *testing.B) {
	for name, at := range phases {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			e := steady(b, at)
			left := 0
			for b.Loop() {
				if left--; left < 0 { // back to the start of the phase, outside the measure
					b.StopTimer()
					e, left = steady(b, at), 40
					b.StartTimer()
				}
				e.Step(e.Next())
			}
		})
	}
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
