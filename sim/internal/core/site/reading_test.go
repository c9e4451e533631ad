package site_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestPolicyReadsWhatTheCardHas: a trigger on what RFC 1628 does not ask for at the
// card's level never acts (field fact p); low battery is there at every level.
func TestPolicyReadsWhatTheCardHas(t *testing.T) {
	for trigger, acts := range map[string]map[string]bool{
		`runtime_below = "10h"`:  {"all": true, "full": true, "basic": false, "subset": false},
		`charge_below_pct = 99`:  {"all": true, "full": true, "basic": false, "subset": false},
		`on_low_battery = true`:  {"all": true, "full": true, "basic": true, "subset": true},
		`on_battery_for = "60s"`: {"all": true, "full": true, "basic": true, "subset": true},
	} {
		for level, want := range acts {
			r := playtest.Start(t, "title = \"level\"\nrun_for = \"24h\"\n[card]\nconformance = \""+level+"\"\n"+
				"[[host]]\nname = \"db\"\ndraw_w = 600\n[policy]\n"+trigger+"\n")
			r.To(vtime.Minute).Inject(`source = "lost"`)
			acted := false
			for !acted && r.Site.UPS.OutputOn && r.Engine.Now() < vtime.Hour {
				acted = r.Step().Site.Policy >= snap.PolicyStopping
			}
			if acted != want {
				t.Errorf("%s at level %s: acted %v", trigger, level, acted)
			}
		}
	}
}
