package engine_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

// untimed takes the times off, so that only the order is left.
func untimed(lines []string) []string {
	var list []string
	for _, line := range lines {
		_, rest, _ := strings.Cut(line, " ")
		list = append(list, rest)
	}
	return list
}

// endOf is the tick of the first line with text.
func endOf(t rapidT, lines []string, text string) float64 {
	for _, line := range lines {
		if strings.Contains(line, text) {
			return seconds(strings.Fields(line)[0])
		}
	}
	t.Fatalf("no line with %q", text)
	return 0
}

type rapidT interface{ Fatalf(string, ...any) }

// seconds reads h:mm:ss.mmm.
func seconds(s string) float64 {
	total, part := 0.0, 0.0
	for _, field := range strings.Split(s, ":") {
		part = 0
		whole, frac, _ := strings.Cut(field, ".")
		for _, c := range whole {
			part = 10*part + float64(c-'0')
		}
		for i, c := range frac {
			part += float64(c-'0') * math.Pow10(-i-1)
		}
		total = 60*total + part
	}
	return total
}

// TestGridDoesNotMatter: extra stops anywhere change neither what happens nor
// its order, and the runtime by less than 0.05 %.
func TestGridDoesNotMatter(t *testing.T) {
	src := "title = \"t\"\nrun_for = \"1h\"\n[card]\naddress = \"192.0.2.10/24\"\n[[host]]\nname = \"a\"\ndraw_w = 900\n" +
		"[[at]]\ntime = \"1m\"\nsource = \"lost\"\n[[at]]\nwhen = \"battery.charge_pct < 90\"\nnote = \"ninety\"\n"
	p := load(t, src)
	whole, _ := play(t, p)
	want := events(whole)
	rapid.Check(t, func(r *rapid.T) {
		gen := rapid.SliceOfN(rapid.Custom(func(r *rapid.T) vtime.Tick {
			return vtime.Tick(rapid.IntRange(1, int(20*min)).Draw(r, "stop"))
		}), 1, 200)
		stops := gen.Draw(r, "stops")
		slices.Sort(stops)
		again, _ := play(t, p, stops...)
		got := events(again)
		if diff := cmp.Diff(untimed(want), untimed(got)); diff != "" {
			r.Fatalf("the order changed (-want +got):\n%s", diff)
		}
		a, b := endOf(r, want, "exhausted")-60, endOf(r, got, "exhausted")-60
		if math.Abs(a-b) > 0.0005*a {
			r.Fatalf("runtime %.3f s, with stops %.3f s", a, b)
		}
	})
}

// TestStopsOfEventsStay: a managed outage has every event at its tick, whoever
// else stops the run.
func TestStopsOfEventsStay(t *testing.T) {
	p := load(t, branch)
	whole, _ := play(t, p)
	var stops []vtime.Tick
	for at := vtime.Tick(0); at < p.RunFor; at += 1237 {
		stops = append(stops, at)
	}
	again, _ := play(t, p, stops...)
	a, b := events(whole), events(again)
	if diff := cmp.Diff(untimed(a), untimed(b)); diff != "" {
		t.Fatalf("the order changed (-want +got):\n%s", diff)
	}
	for i := range a {
		if d := seconds(strings.Fields(a[i])[0]) - seconds(strings.Fields(b[i])[0]); i > 0 && math.Abs(d) > 0.1 {
			t.Errorf("%s%s", a[i], b[i])
		}
	}
}

// TestStopsOnlyAdd: a stop puts one instant between those of the grid and shifts
// none.
func TestStopsOnlyAdd(t *testing.T) {
	p := load(t, "title = \"t\"\nrun_for = \"2h\"\n[battery]\ncharge_pct = 60\n[[host]]\nname = \"a\"\ndraw_w = 100\n")
	grid := func(stop vtime.Tick) (ticks []vtime.Tick) {
		e, _ := newEngine(t, p)
		for e.Now() < p.RunFor {
			to := p.RunFor
			if e.Now() < stop {
				to = stop
			}
			ticks = append(ticks, e.Step(to).Tick)
		}
		return ticks
	}
	whole, stopped := grid(0), grid(12_345)
	at, found := slices.BinarySearch(stopped, 12_345)
	if !found {
		t.Fatal("it did not stop")
	}
	if diff := cmp.Diff(whole, slices.Delete(stopped, at, at+1)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestExactLanding: a threshold is met at its tick. The slow way, one millisecond
// at a time from 2 s before, finds the same tick to within the difference that
// the finer steps make to the battery itself.
func TestExactLanding(t *testing.T) {
	for name, row := range map[string]struct{ when, line string }{
		"charge":      {"battery.charge_pct < 97.3", "note: here"},
		"volts":       {"battery.volts < 71.5", "note: here"},
		"time":        {"t_s >= 123.4567", "note: here"},
		"since":       {"ups.on_battery_s > 63.2", "note: here"},
		"low battery": {"ups.runtime_min <= 12.345", "note: here"},
	} {
		t.Run(name, func(t *testing.T) {
			src := "title = \"t\"\nrun_for = \"1h\"\n[[host]]\nname = \"a\"\ndraw_w = 900\n" +
				"[[at]]\ntime = \"1m\"\nsource = \"lost\"\n[[at]]\nwhen = \"" + row.when + "\"\nnote = \"here\"\n"
			at := until(playtest.Start(t, src), row.line, (*playtest.Run).Step)
			slow := playtest.Start(t, src).To(at - 2*sec)
			brute := until(slow, row.line, func(r *playtest.Run) *playtest.Run { return r.To(r.Engine.Now() + 1) })
			if d := at - brute; d < -2 || d > 2 {
				t.Errorf("at %v, a millisecond at a time at %v", at, brute)
			}
		})
	}
}

// until is the tick at which the trace has text.
func until(r *playtest.Run, text string, step func(*playtest.Run) *playtest.Run) vtime.Tick {
	for r.Count(text) == 0 && r.Engine.Now() < r.Plan.RunFor {
		step(r)
	}
	return r.Engine.Now()
}

// TestSameBytes: the same plan gives the same trace.
func TestSameBytes(t *testing.T) {
	for name, p := range shipped(t) {
		a, _ := play(t, p)
		b, _ := play(t, p)
		if a != b {
			t.Errorf("%s: %s", name, cmp.Diff(a, b))
		}
		if len(events(a)) < 5 {
			t.Errorf("%s: nothing happens", name)
		}
	}
}

// TestEstimateHolds: the estimate at the transfer is what the battery then does,
// to 1 % (its steps are longer).
func TestEstimateHolds(t *testing.T) {
	for _, draw := range []string{"200", "900", "2000"} {
		src := "title = \"t\"\nrun_for = \"12h\"\n[[host]]\nname = \"a\"\ndraw_w = " + draw + "\n"
		r := playtest.Start(t, src).Inject(`source = "lost"`)
		estimate := r.Site.Battery.RuntimeS
		for r.Site.UPS.OutputOn && r.Engine.Now() < r.Plan.RunFor {
			r.Step()
		}
		if got := r.Engine.Now().Seconds(); math.Abs(got-estimate) > 0.01*got {
			t.Errorf("%s W: estimated %.1f s, lasted %.1f s", draw, estimate, got)
		}
	}
}
