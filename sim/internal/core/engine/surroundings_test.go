package engine_test

import (
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

// whole is the branch with everything that a site can have around its unit: a
// generator, a room with cooling, two probes, and a host on two feeds.
var whole = strings.ReplaceAll(branch, "stop_takes", "group = \"ups\"\nstop_takes") + `
[source]
generator = { rating_w = 6000 }
[room]
cooling_w = 3000
[[probe]]
name = "inlet"
high_warn_c = 30
[[probe]]
name = "outlet"
offset_k = 6
humidity = true
[[group]]
name = "ups"
[[group]]
name = "past"
fed_by = "mains"
inrush = { times = 3 }
[[host]]
name = "twin"
groups = ["ups", "past"]
draw_w = 200
`

// TestSurroundingsBalance: energies add up on a generator, in a room, in a drift
// and with two feeds; what goes past the unit is none of its energy.
func TestSurroundingsBalance(t *testing.T) {
	host := "title = \"t\"\nrun_for = \"10h\"\n[[host]]\nname = \"a\"\ndraw_w = 900\n"
	lost := "[[at]]\ntime = \"1m\"\nsource = \"lost\"\n[[at]]\ntime = \"2h\"\nsource = \"normal\"\n"
	for name, src := range map[string]string{
		"generator": host + "[source]\ngenerator = {rating_w = 3000}\n" + lost,
		"room":      host + "[room]\ncooling_w = 500\n[[probe]]\nname = \"p\"\n" + lost,
		"drift":     host + "[[at]]\ntime = \"1m\"\nsource = {volts = 150, over = \"1h\"}\n",
		"whole":     whole,
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, src)
			for r.Engine.Now() < r.Plan.RunFor {
				r.Step()
				if what := unbalanced(r.Site.Power); what != "" {
					t.Fatalf("at %v: %s", r.Engine.Now(), what)
				}
			}
			if r.Site.Power.LossWh <= 0 {
				t.Errorf("%+v", r.Site.Power)
			}
		})
	}
}

// TestGeneratorDoesNotMindTheGrid: extra stops move no event on a generator that
// wanders and takes load by more than the battery's own tolerance.
func TestGeneratorDoesNotMindTheGrid(t *testing.T) {
	src := whole + "[ups]\nlow_hz = 49\nhigh_hz = 51\nqualify = \"1s\"\n"
	a, b := playtest.Start(t, src).To(45*min), playtest.Start(t, src)
	for at := vtime.Tick(0); at < 45*min; at += 1237 {
		b.To(at)
	}
	one, two := events(a.Trace()), events(b.To(45*min).Trace())
	if len(one) != len(two) || len(one) < 20 {
		t.Fatalf("%d events, with stops %d", len(one), len(two))
	}
	for i := range one {
		if d := endOf(t, one[i:i+1], "") - endOf(t, two[i:i+1], ""); math.Abs(d) > 0.1 {
			t.Errorf("%s%s", one[i], two[i])
		}
	}
}

// TestWholeSiteAllocatesNothing while nothing happens, drifts and generators
// included.
func TestWholeSiteAllocatesNothing(t *testing.T) {
	for name, src := range map[string]string{
		"generator, room and probes": whole,
		"drift":                      branch + "[[at]]\ntime = \"36m\"\nsource = {volts = 200, over = \"1h\"}\n",
	} {
		e, _ := newEngine(t, load(t, src))
		for e.Now() < 40*min {
			e.Step(40 * min)
		}
		if allocs := testing.AllocsPerRun(40, func() { e.Step(e.Next()) }); allocs != 0 {
			t.Errorf("%s: %v allocations a step", name, allocs)
		}
	}
}

// BenchmarkWholeOutage is the outage of [BenchmarkOutage] with all of that around
// it.
func BenchmarkWholeOutage(b *testing.B) { benchmarkRun(b, load(b, whole)) }

// BenchmarkDrift is an hour of a drifting supply.
func BenchmarkDrift(b *testing.B) {
	p := load(b, "title = \"t\"\nrun_for = \"1h\"\n[[host]]\nname = \"a\"\ndraw_w = 400\n[[at]]\ntime = \"1m\"\nsource = {volts = 180, over = \"50m\"}\n")
	benchmarkRun(b, p)
}
