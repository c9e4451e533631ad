package site_test

import (
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
)

// many are groups with rules of every kind. The first feeds the control path.
const many = head + `
restart_charge_pct = 20
restart_off = "12s"
[battery]
block = "agm-12v-9ah"
series = 6
[[group]]
name = "path"
control_path = true
[[group]]
name = "timed"
on_delay = "5s"
off_delay = "20s"
shed_after = "40s"
min_off = "25s"
[[group]]
name = "charged"
on_delay = "10s"
shed_charge_pct = 60
min_charge_pct = 65
[[group]]
name = "brief"
on_delay = "15s"
shed_runtime = "12m"
[[host]]
name = "a"
groups = ["path", "timed"]
draw_w = 300
[[host]]
name = "b"
group = "charged"
draw_w = 300
[[host]]
name = "c"
group = "brief"
draw_w = 200
`

// TestGroupsInAnyStory: whatever happens in whatever order, no group is live without
// the output or against an order, none comes on before its shortest time off, none
// outlasts the control path that nobody has switched, and the load of the groups is
// that of the output.
func TestGroupsInAnyStory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := playtest.Start(t, many)
		for range rapid.IntRange(1, 25).Draw(t, "steps") {
			tell(t, r)
			for end := r.Engine.Now() + vtime.Tick(rapid.IntRange(0, 60_000).Draw(t, "wait")); r.Engine.Now() < end; {
				checkGroups(t, r)
				if r.Step(); r.Engine.Now() > end {
					break
				}
			}
			checkGroups(t, r)
		}
	})
}

// tell does something to the site.
func tell(t *rapid.T, r *playtest.Run) {
	group := rapid.SampledFrom([]string{"timed", "charged", "brief"}).Draw(t, "group")
	switch rapid.IntRange(0, 4).Draw(t, "what") {
	case 0:
		r.Inject(rapid.SampledFrom([]string{lost, normal, normal, "charge_pct = 15", "charge_pct = 62", "charge_pct = 90",
			`output = "off"`, `output = "on"`, `test = "quick-battery"`, `card = "restart"`,
			`remote_switching = "locked"`, `remote_switching = "allowed"`}).Draw(t, "bench"))
	case 1:
		r.Set(snap.Assignment{Var: snap.VarShutdownAfter, Int: int64(rapid.IntRange(-1, 40).Draw(t, "off"))})
	case 2:
		r.Set(snap.Assignment{Var: snap.VarStartupAfter, Int: int64(rapid.IntRange(-1, 40).Draw(t, "on"))})
	default:
		r.Do(snap.Command{Op: snap.OpSwitch, By: kim, Group: group, Text: rapid.SampledFrom([]string{"off", "on", "cycle"}).Draw(t, "order")})
	}
}

// checkGroups holds what is always so.
func checkGroups(t *rapid.T, r *playtest.Run) {
	s, sum := r.Site, 0.0
	for i, g := range s.Groups {
		held := s.Outlets.Held&(1<<i) != 0
		switch {
		case g.On && (!s.UPS.OutputOn || held):
			t.Fatalf("at %v %s is on: output %v, held %v", s.Tick, g.Name, s.UPS.OutputOn, held)
		case g.On && !s.Groups[0].On:
			t.Fatalf("at %v %s outlasts the control path", s.Tick, g.Name)
		case g.On && i == 1 && g.OffAt != vtime.Never && g.WasOff < 25*sec:
			t.Fatalf("at %v %s was off for %v", s.Tick, g.Name, g.WasOff)
		}
		sum += g.LoadW
	}
	if d := sum - s.Power.OutputW; s.UPS.OutputOn && (d > 1e-6 || d < -1e-6) {
		t.Fatalf("at %v the groups draw %.3f W, the output gives %.3f", s.Tick, sum, s.Power.OutputW)
	}
}
