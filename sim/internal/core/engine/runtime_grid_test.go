package engine_test

import (
	"fmt"
	"math"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

// kinds are batteries of every kind, by the keys of [battery].
var kinds = map[string]string{
	"lead-acid":       "",
	"two strings":     "strings = 2",
	"hot":             "ambient_c = 38",
	"cold":            "ambient_c = 2",
	"aged":            "age_years = 6",
	"weak block":      "weak_block = { capacity_pct = 40, resistance_pct = 200 }",
	"weak beside one": "strings = 2\nweak_block = { capacity_pct = 35, resistance_pct = 150 }",
	"weak beside two": "strings = 3\nweak_block = { capacity_pct = 60 }",
	"open string":     "strings = 2\nopen_block = true",
	"lithium":         "block = \"lfp-12.8v-20ah\"",
	"small":           "capacity_ah = 6",
}

// topologies are the units of every class, by the keys of [ups].
var topologies = map[string]string{
	"VI": `topology = "VI"`, "VFD": `topology = "VFD"`, "VFI": `topology = "VFI"`,
	"high efficiency": "topology = \"VFI\"\nhigh_efficiency = true", "three lines": "topology = \"VFI\"\nphases = \"3/3\"",
}

// exhausted is how long the battery carries the load until the output goes off, in
// seconds, with a stop every so often beside those of the grid itself.
func exhausted(t *testing.T, src string, every vtime.Tick) float64 {
	r := playtest.Start(t, src)
	for r.Site.UPS.OutputOn && r.Engine.Now() < r.Plan.RunFor {
		r.To(min2(r.Engine.Now()-r.Engine.Now()%every+every, r.Plan.RunFor))
	}
	if r.Site.UPS.OutputOn {
		t.Fatalf("it lasts too long: %v", r.Site.ChargePct)
	}
	return seconds(lineTime(t, r, "the battery is exhausted")) - 60
}

func lineTime(t *testing.T, r *playtest.Run, text string) string {
	return fmt.Sprintf("%.3f", endOf(t, events(r.Trace()), text))
}

func min2(a, b vtime.Tick) vtime.Tick {
	if b < a {
		return b
	}
	return a
}

// TestHalvingTheGrid: twice as many steps on battery move no runtime by 0.005 %,
// whatever the battery is, and whatever the unit.
func TestHalvingTheGrid(t *testing.T) {
	run := func(name, ups, battery string) {
		t.Run(name, func(t *testing.T) {
			src := fmt.Sprintf("title = \"t\"\nrun_for = \"20h\"\n[ups]\n%s\n[battery]\n%s\n[[host]]\nname = \"a\"\ndraw_w = 900\n"+
				"[[at]]\ntime = \"1m\"\nsource = \"lost\"\n", ups, battery)
			whole := exhausted(t, src, 20*vtime.Hour)
			half := exhausted(t, src, vtime.Second/2)
			if d := half/whole - 1; math.Abs(d) > 0.00005 || whole < 20 {
				t.Errorf("%.3f s, with half the steps %.3f s: %+.4f %%", whole, half, 100*d)
			}
			t.Logf("%.3f s, with half the steps %.3f s: %+.4f %%", whole, half, 100*(half/whole-1))
		})
	}
	for name, battery := range kinds {
		run(name, topologies["VI"], battery)
	}
	for name, ups := range topologies {
		run(name, ups, "")
	}
	run("VFI, weak beside one", topologies["VFI"], kinds["weak beside one"])
}
