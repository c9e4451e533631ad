package site_test

import (
	"math"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

const worn = head + `
[battery]
block = "agm-12v-9ah"
age_years = 6
weak_block = { capacity_pct = 30, resistance_pct = 300 }
` + one

// TestReplace: new blocks have all their capacity, what the old ones held is no
// energy that the unit gave or took, and the unit goes by what it knew until it is told.
func TestReplace(t *testing.T) {
	r := playtest.Start(t, worn).To(vtime.Minute)
	health, gave := r.Site.HealthPct, r.Site.Power.BatteryWh
	r.Inject(`battery = { charge_pct = 60 }`)
	if health > 40 || math.Abs(r.Site.HealthPct-100) > 0.01 || math.Abs(r.Site.ChargePct-60) > 0.1 || math.Abs(r.Site.Battery.ChargePct-60) > 1 {
		t.Errorf("%.1f %% before, %.1f %% after, charged %.1f %%, shown %.1f %%", health, r.Site.HealthPct, r.Site.ChargePct, r.Site.Battery.ChargePct)
	}
	if math.Abs(r.Site.Power.BatteryWh-gave) > 0.001 {
		t.Errorf("%.3f Wh came from nowhere", r.Site.Power.BatteryWh-gave)
	}
	if r.To(24 * vtime.Hour); r.Site.ChargePct < 99 {
		t.Errorf("after a day %.1f %%", r.Site.ChargePct)
	}
}

// TestReplaceLeaves: a block that was left in is as bad as it was.
func TestReplaceLeaves(t *testing.T) {
	for left, row := range map[string]struct{ least, most float64 }{"none": {99.9, 100.1}, "aged": {60, 95}, "faulty": {10, 30}} {
		r := playtest.Start(t, worn).To(vtime.Minute).Inject(`battery = { old_block = "` + left + `" }`)
		if h := r.Site.HealthPct; h < row.least || h > row.most {
			t.Errorf("%s: %.1f %%", left, h)
		}
	}
}

// TestReplaceUnderLoad is refused, and so is telling a unit that the card does not reach.
func TestReplaceUnderLoad(t *testing.T) {
	r := playtest.Start(t, worn).To(vtime.Minute).Inject(`source = "lost"`).To(vtime.Minute + 5*vtime.Second)
	health := r.Site.HealthPct
	if r.Inject(`battery = {}`); r.Site.HealthPct != health || r.Count("not replaced: it carries the load") != 1 {
		t.Errorf("%.1f %%, then %.1f %%", health, r.Site.HealthPct)
	}
	if r.Inject(`ups_link = "lost"`).Inject(`health = "reset"`); r.Count("health-reset refused: the card has no contact") != 1 {
		t.Errorf("%s", r.Trace())
	}
}
