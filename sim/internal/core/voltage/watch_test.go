package voltage_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/voltage"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/mains"
)

type seen struct {
	tick  vtime.Tick
	volts float64
}

func watched(list []seen, end vtime.Tick) []voltage.Variation {
	w := voltage.Watch{Volts: 230, Hz: 50}
	for _, s := range list {
		w.See(s.tick, snap.Feed{Volts: s.volts, Hz: 50})
	}
	return w.Finish(end)
}

func TestVariations(t *testing.T) {
	for _, c := range []struct {
		name string
		list []seen
		want []voltage.Variation
	}{
		{"nothing", []seen{{0, 230}, {100, 215}, {200, 250}}, nil},
		{"a dip", []seen{{0, 230}, {1000, 138}, {1010, 138}, {1300, 230}}, []voltage.Variation{
			{Start: 1000, End: 1300, Share: 0.6, Class: mains.InstantaneousSag},
		}},
		{"a short gap that everybody bears", []seen{{0, 230}, {1000, 0}, {1015, 230}}, []voltage.Variation{
			{Start: 1000, End: 1015, Share: 0, Class: mains.MomentaryInterruption, Rides: true},
		}},
		{"a dip that deepens and recovers a little counts as deep", []seen{{0, 230}, {1000, 184}, {1500, 0}, {2000, 184}, {3000, 230}}, []voltage.Variation{
			{Start: 1000, End: 3000, Share: 0, Class: mains.MomentaryInterruption},
		}},
		{"from below to above", []seen{{0, 230}, {1000, 161}, {1400, 276}, {1800, 230}}, []voltage.Variation{
			{Start: 1000, End: 1400, Share: 0.7, Class: mains.InstantaneousSag, Rides: true},
			{Start: 1400, End: 1800, Share: 1.2, Class: mains.InstantaneousSwell, Rides: true},
		}},
		{"the run ends in an outage", []seen{{0, 230}, {1000, 0}}, []voltage.Variation{
			{Start: 1000, End: 91_000, Share: 0, Open: true, Class: mains.SustainedInterruption},
		}},
	} {
		near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })
		if diff := cmp.Diff(c.want, watched(c.list, 91_000), near); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// However often the supply is looked at in between, the list is the same.
func TestLookingMoreOftenChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list, twice []seen
		tick, volts := vtime.Tick(0), 230.0
		for range rapid.IntRange(1, 20).Draw(t, "changes") {
			list, twice = append(list, seen{tick, volts}), append(twice, seen{tick, volts})
			step := vtime.Tick(rapid.IntRange(1, 5000).Draw(t, "step"))
			twice = append(twice, seen{tick + step/2, volts})
			tick += step
			volts = 230 * rapid.SampledFrom([]float64{0, 0.4, 0.9, 0.95, 1, 1.05, 1.15, 1.3}).Draw(t, "share")
		}
		if diff := cmp.Diff(watched(list, tick), watched(twice, tick)); diff != "" {
			t.Fatal(diff)
		}
	})
}
