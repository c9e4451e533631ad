package sim_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ridethrough/sim"
)

// TestFitDischarge: the health that a scenario gives its battery comes out of the bundle
// of its outage, as the lines that it prints, and these give the outage again.
func TestFitDischarge(t *testing.T) {
	for _, c := range []struct{ capacity, resistance, strings, temp float64 }{
		{100, 100, 1, 25}, {80, 150, 1, 25}, {65, 200, 2, 25}, {90, 120, 1, 15},
	} {
		text := fmt.Sprintf(`title = "A long outage"
run_for = "3h"
[battery]
strings = %g
ambient_c = %g
health = { capacity_pct = %g, resistance_pct = %g }
[[host]]
name = "db"
draw_w = 500
[[at]]
time = "60s"
source = "lost"
`, c.strings, c.temp, c.capacity, c.resistance)
		path := exported(t, text, 10*time.Second)
		d, err := sim.FitDischarge(path, sim.DischargeOptions{Base: "agm-12v-9ah", Strings: int(c.strings), TempC: math.NaN()})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(d.CapacityPct.Value-c.capacity) > 3 || math.Abs(d.ResistancePct.Value-c.resistance) > 0.15*c.resistance {
			t.Errorf("%+v: found capacity %+v, resistance %+v", c, d.CapacityPct, d.ResistancePct)
		}
		if want := (100 - c.capacity) / 20 * 10; math.Abs(d.AgeYears.Value-want) > 1.5 {
			t.Errorf("%+v: an age of %+v, want %g", c, d.AgeYears, want)
		}
		if !strings.Contains(d.Scenario(), fmt.Sprintf("capacity_pct = %.1f", d.CapacityPct.Value)) {
			t.Errorf("the lines %s", d.Scenario())
		}
		again := fmt.Sprintf("title = \"Again\"\nrun_for = \"3h\"\n%sambient_c = %g\n[[host]]\nname = \"all\"\ndraw_w = 100\n", d.Scenario(), c.temp)
		r, err := sim.ReplaySource(parsed(t, again), path, sim.SourceOptions{Limits: map[string]float64{"charge": 2, "battery_voltage": 2, "transitions": 6}})
		if err != nil {
			t.Fatal(err)
		}
		if !r.Met() {
			var said bytes.Buffer
			r.Text(&said)
			t.Errorf("%+v: with these lines the incident does not come out again:\n%s", c, &said)
		}
	}
}

// TestFitDischargeRefuses: what tells nothing of a battery.
func TestFitDischargeRefuses(t *testing.T) {
	mains := exported(t, incidentSite, 10*time.Second)
	table := filepath.Join(t.TempDir(), "d.csv")
	if err := os.WriteFile(table, []byte("seconds,volts,amps\n0,75,9\n60,74,x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ path, base, want string }{
		{mains, "agm-12v-9ah", "the longest time on battery has 0 readings: expected at least 5"},
		{table, "agm-12v-9ah", `d.csv:3: amps "x": want a number`},
		{table, "no-such", `there is no block "no-such"; expected one of agm-`},
		{table, "lfp-12.8v-100ah", "is not lead-acid"},
		{table + "x", "agm-12v-9ah", "cannot read"},
	} {
		if _, err := sim.FitDischarge(c.path, sim.DischargeOptions{Base: c.base, TempC: math.NaN()}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}
