package site_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// small is a site whose load is a share of what its generator is rated for. The
// generator neither wanders nor droops, save as more says.
func small(share float64, more string) string {
	return fmt.Sprintf(`
title = "t"
run_for = "24h"
[card]
address = "192.0.2.10/24"
[ups]
mains_loss = { no_load = 0, linear = 0, quadratic = 0 }
[battery]
charge_a = 0.01
capacity_ah = 100
[source]
generator = { rating_w = 1000, start_after = "0s", start_takes = "1s", settles = "0s", droop_hz = 0, step_hz = 0, step_v = 0%s }
changeover = { gap = "1ms", accept = "0s", watch = "1m" }
[[host]]
name = "db"
draw_w = %.0f
`, more, 1000*share)
}

// TestGeneratorTripsOnOverload: at the time of its law, t = K/(x^2 - 1) with 60 s at
// 125 % (common practice); 110 % is borne for ever, 300 % for no time at all.
func TestGeneratorTripsOnOverload(t *testing.T) {
	const k = 60 * (1.25*1.25 - 1)
	for share, want := range map[float64]float64{1.08: math.Inf(1), 1.25: 60, 1.5: k / (1.5*1.5 - 1), 2: k / 3} {
		r := playtest.Start(t, small(share, "")).To(min).Inject(lost).To(vtime.Hour)
		trips := times(t, r, "generator: trips: overload")
		if math.IsInf(want, 1) {
			if len(trips) != 0 {
				t.Errorf("%.0f %%: trips at %v", 100*share, trips)
			}
			continue
		}
		takes := times(t, r, "output: ")[1]
		// The charger adds a watt, and the load falls a little when the battery is full.
		if got := (trips[0] - takes).Seconds(); len(trips) != 1 || math.Abs(got-want) > 0.02*want {
			t.Errorf("%.0f %%: trips after %v s, want %v", 100*share, got, want)
		}
		if r.Site.Supply.Generator != snap.GeneratorTripped || r.Site.UPS.Source != snap.SourceBattery {
			t.Errorf("%+v, fed by %v", r.Site.Supply, r.Site.UPS.Source)
		}
	}
	r := playtest.Start(t, strings.Replace(small(2.6, ""), `"0s", droop`, `"0s", overload = { instant_pct = 250 }, droop`, 1)).To(min).Inject(lost).To(2 * min)
	if takes, trips := times(t, r, "output: ")[1], once(t, r, "generator: trips: overload, 260 %"); trips > takes+1 {
		t.Errorf("takes the load at %v and trips at %v", takes, trips)
	}
}

// TestGeneratorRemembersOverload: what it has borne cools down with its time
// constant, so that the next overload is borne for less.
func TestGeneratorRemembersOverload(t *testing.T) {
	r := playtest.Start(t, small(1.25, "")).To(min).Inject(lost).To(2 * min) // borne for some 53 s of 60
	r.Inject("host = \"db\"\ndraw_w = 900").To(2*min + 30*sec).Inject("host = \"db\"\ndraw_w = 1250").To(5 * min)
	takes, trips := times(t, r, "output: ")[1], once(t, r, "generator: trips")
	borne := (2*min - takes).Seconds() / 60
	want := 60 * (1 - borne*math.Exp(-30.0/300))
	if got := (trips - 2*min - 30*sec).Seconds(); math.Abs(got-want) > 0.5 {
		t.Errorf("borne for %v s more, want %v", got, want)
	}
}

// TestGeneratorTripsOnWhatItDelivers: too slow or too low for too long, to the tick
// after its delay; a dip that passes before is borne.
func TestGeneratorTripsOnWhatItDelivers(t *testing.T) {
	for name, row := range map[string]struct {
		more, why string
		after     float64 // seconds from the load to the trip, 0 if it does not
	}{
		"droops below":  {", recovers = \"100ms\", droop_hz = 7, step_hz = 0, step_v = 0", "under-frequency", 5},
		"droops to it":  {", droop_hz = 4.9, step_v = 0", "", 0},
		"dips in speed": {", step_hz = 15, recovers = \"2s\", step_v = 0", "", 0},
		"dips in volts": {", step_v = 80, recovers = \"2s\"", "", 0},
		"slow to catch": {", step_v = 120, recovers = \"20s\"", "under-voltage", 5},
		"never mind":    {", recovers = \"100ms\", droop_hz = 7, trip_hz_pct = 0, step_v = 0", "", 0},
		"at once":       {", recovers = \"100ms\", droop_hz = 7, trip_after = \"0s\", step_v = 0", "under-frequency", 0.1},
	} {
		src := strings.Replace(small(0.9, ""), "droop_hz = 0, step_hz = 0, step_v = 0", strings.TrimPrefix(row.more, ", "), 1)
		src = strings.Replace(src, "[ups]", "[ups]\nlow_hz = 30\nlow_transfer_v = 60", 1)
		r := playtest.Start(t, src).To(min).Inject(lost).To(10 * min)
		trips := times(t, r, "generator: trips: "+row.why)
		if row.after == 0 {
			if len(trips) != 0 {
				t.Errorf("%s: trips at %v", name, trips)
			}
			continue
		}
		takes := times(t, r, "output: ")[1]
		if len(trips) != 1 || math.Abs((trips[0]-takes).Seconds()-row.after) > 2 || trips[0] <= takes {
			t.Errorf("%s: takes the load at %v, trips at %v\n%s", name, takes, trips, r.Trace())
		}
	}
}

// TestTrippedIsLockedOut: it does not start again by itself, whatever the utility
// does; reset it starts if it is needed, and has forgotten.
func TestTrippedIsLockedOut(t *testing.T) {
	r := playtest.Start(t, small(1.5, "")).To(min).Inject(lost).To(10 * min)
	r.Inject(normal).To(12 * min).Inject(lost).To(20 * min)
	if r.Site.Supply.Generator != snap.GeneratorTripped || r.Count("generator: starting") != 1 {
		t.Fatalf("%+v\n%s", r.Site.Supply, r.Trace())
	}
	r.Inject("host = \"db\"\ndraw_w = 800").Inject(`generator = "working"`).To(22 * min)
	if r.Site.Supply.Switch != snap.OnGenerator || r.Site.UPS.Source != snap.SourceNormal || r.Site.Supply.LoadPct < 80 {
		t.Errorf("reset: %+v, fed by %v", r.Site.Supply, r.Site.UPS.Source)
	}
	r = playtest.Start(t, small(1.5, "")).To(min).Inject(lost).To(10 * min).Inject(normal).To(20 * min).Inject(`generator = "working"`).To(21 * min)
	if r.Site.Supply.Generator != snap.GeneratorStopped {
		t.Errorf("reset while the utility is good: %+v", r.Site.Supply)
	}
}

// TestChatterIsBounded: a generator that falls out of the unit's window under the
// load and recovers without it would be taken and left for ever. The unit learns
// after six times in a row, and asks for a minute of a good input from then on.
func TestChatterIsBounded(t *testing.T) {
	src := func(retransfer string) string {
		s := strings.Replace(small(0.9, ""), "droop_hz = 0", "recovers = \"500ms\", droop_hz = 4", 1)
		return strings.Replace(s, "[ups]", "[ups]\nqualify = \"0s\"\n"+retransfer, 1)
	}
	left := func(r *playtest.Run) int { return r.Count("input: bad") - 1 } // the first is the utility's
	r := playtest.Start(t, src("")).To(min).Inject(lost).To(11 * min)
	if n := left(r); n < 10 || n > 6+10 || !r.Site.HoldsOff {
		t.Errorf("left %d times in ten minutes", n)
	}
	// It goes on trying, and as soon as the load is small enough it stays.
	r.Inject("host = \"db\"\ndraw_w = 300").To(13 * min)
	if r.Site.UPS.Source != snap.SourceNormal {
		t.Errorf("fed by %v", r.Site.UPS.Source)
	}
	// Once the load has been carried the unit trusts its input again.
	if r.To(20 * min).Inject(normal).To(30 * min).Inject(lost).To(31 * min); r.Site.HoldsOff {
		t.Error("it distrusts an input that has borne the load")
	}
	if n := left(playtest.Start(t, src("retransfer = { limit = 0 }")).To(min).Inject(lost).To(11 * min)); n < 100 {
		t.Errorf("a unit that never learns leaves it %d times only", n)
	}
}

// TestOverloadIsForgottenAtRest: a generator that stands cools down too.
func TestOverloadIsForgottenAtRest(t *testing.T) {
	src := strings.Replace(small(1.25, ""), `settles = "0s"`, `settles = "0s", cools_down = "0s"`, 1)
	r := playtest.Start(t, src).To(min).Inject(lost)
	for r.Site.UPS.Source != snap.SourceNormal {
		r.Step()
	}
	took := r.Engine.Now()
	r.To(took + 40*sec).Inject("host = \"db\"\ndraw_w = 500").Inject(normal).To(took + 3*min)
	if r.Site.Supply.Generator != snap.GeneratorStopped {
		t.Fatalf("%+v", r.Site.Supply)
	}
	r.To(took + 20*min).Inject("host = \"db\"\ndraw_w = 1250").Inject(lost)
	for r.Site.UPS.Source != snap.SourceNormal {
		r.Step()
	}
	again := r.Engine.Now()
	r.To(again + 2*min)
	left := 40.0 / 60 * math.Exp(-(again-took-40*sec).Seconds()/300)
	want := 60 * (1 - left)
	if got := (once(t, r, "generator: trips") - again).Seconds(); math.Abs(got-want) > 0.7 || want > 59.5 {
		t.Errorf("it bears %.2f s, want %.2f", got, want)
	}
}

// TestResetForgets: a generator that is reset at once bears an overload as from cold.
func TestResetForgets(t *testing.T) {
	r := playtest.Start(t, small(1.25, "")).To(min).Inject(lost)
	for r.Site.Supply.Generator != snap.GeneratorTripped {
		r.Step()
	}
	tripped := r.Engine.Now()
	r.Inject(`generator = "working"`).To(tripped + 30*sec).To(tripped + 3*min)
	trips := times(t, r, "generator: trips: overload")
	if len(trips) != 2 || (trips[1]-trips[0]).Seconds() < 60 {
		t.Errorf("trips at %v", trips)
	}
}
