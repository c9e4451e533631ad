package site_test

import (
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// twoUnits is a site with a machine on each of two units and one on both.
const twoUnits = head + `
[[unit]]
name = "b"
[unit.card]
address = "192.0.2.77/24"
[[group]]
name = "rack_a"
[[group]]
name = "rack_b"
unit = "b"
[[host]]
name = "both"
groups = ["rack_a", "rack_b"]
draw_w = 600
stop_takes = "2m"
boot_takes = "1m"
[[host]]
name = "left"
group = "rack_a"
draw_w = 100
stop_takes = "1m"
boot_takes = "1m"
[[host]]
name = "right"
group = "rack_b"
draw_w = 200
stop_takes = "1m"
boot_takes = "1m"
`

const lookedAfter = `
[policy]
poll_every = "10s"
on_battery_for = "1m"
off_delay = "20s"
`

func unitB(r *playtest.Run) *snap.Site { return r.Site.Units[0] }

// TestUnitsShareLoad: between the feeds that are live, each measured by its own unit.
func TestUnitsShareLoad(t *testing.T) {
	r := playtest.Start(t, twoUnits).To(min)
	loads := func(a, b float64) {
		t.Helper()
		if got := [2]float64{r.Site.Power.OutputW, unitB(r).Power.OutputW}; math.Abs(got[0]-a) > 1e-9 || math.Abs(got[1]-b) > 1e-9 {
			t.Errorf("at %v: %v W, want %v and %v", r.Engine.Now(), got, a, b)
		}
	}
	loads(400, 500)
	r.Inject(`output = "off"`)
	loads(0, 800)
	r.Inject(`output = "on"`).To(2 * min)
	loads(400, 500)
	r.Inject("unit = \"b\"\noutput = \"off\"")
	loads(700, 0)
	expectStates(t, r, "running booting cut")
}

// TestUnitsFallAlone: a breaker is of one unit, a feeder of all that hang on it.
func TestUnitsFallAlone(t *testing.T) {
	sources := func(r *playtest.Run, a, b snap.OutputSource) {
		t.Helper()
		if r.Site.UPS.Source != a || unitB(r).UPS.Source != b {
			t.Errorf("%v: %v and %v, want %v and %v", r.Engine.Now(), r.Site.UPS.Source, unitB(r).UPS.Source, a, b)
		}
	}
	r := playtest.Start(t, twoUnits).To(min).Inject(`input = "open"`)
	sources(r, snap.SourceBattery, snap.SourceNormal)
	r.Inject(`input = "closed"`).To(2 * min).Inject("unit = \"b\"\ninput = \"open\"")
	sources(r, snap.SourceNormal, snap.SourceBattery)
	r.Inject("unit = \"b\"\ninput = \"closed\"").To(3 * min).Inject(lost)
	sources(r, snap.SourceBattery, snap.SourceBattery)

	own := strings.Replace(twoUnits, "[unit.card]", "[unit.source]\n[unit.card]", 1)
	r = playtest.Start(t, own).To(min).Inject(lost)
	sources(r, snap.SourceBattery, snap.SourceNormal)
	r.Inject(normal).To(2 * min).Inject("unit = \"b\"\n" + lost)
	sources(r, snap.SourceNormal, snap.SourceBattery)
}

// TestUnitsQuorum: a machine with two supplies stops only when fewer than it needs
// would stay (row 57).
func TestUnitsQuorum(t *testing.T) {
	r := playtest.Start(t, twoUnits+lookedAfter).To(min).Inject(`input = "open"`).To(6 * min)
	expectStates(t, r, "running off running")
	if r.Site.UPS.OutputOn || !unitB(r).UPS.OutputOn {
		t.Error("unit a alone has to be off")
	}
	r.Inject("unit = \"b\"\ninput = \"open\"").To(12 * min)
	expectStates(t, r, "off off off")
	if host(t, r, "both").Ended != "clean" || host(t, r, "right").Ended != "clean" {
		t.Error("not stopped in order")
	}
	r.Inject(`input = "closed"`).Inject("unit = \"b\"\ninput = \"closed\"").To(15 * min)
	expectStates(t, r, "running running running")

	both := strings.Replace(twoUnits, `groups = ["rack_a", "rack_b"]`, "groups = [\"rack_a\", \"rack_b\"]\nsupplies_needed = 2", 1)
	r = playtest.Start(t, both+lookedAfter).To(min).Inject(`input = "open"`).To(6 * min)
	if h := host(t, r, "both"); h.Ended != "clean" || h.State != snap.HostOff {
		t.Errorf("a machine that needs both supplies: %+v", h)
	}
}

// TestUnitsBothLow: in an outage of both the machine on both stops under the second
// order, and neither output goes off under it.
func TestUnitsBothLow(t *testing.T) {
	r := playtest.Start(t, twoUnits+lookedAfter).To(min).Inject(lost).To(10 * min)
	if h := host(t, r, "both"); h.Ended != "clean" || r.Site.UPS.OutputOn || unitB(r).UPS.OutputOn {
		t.Errorf("%+v", h)
	}
	if cuts := times(t, r, ": cut"); len(cuts) > 0 {
		t.Errorf("cut at %v", cuts)
	}
	r.Inject(normal).To(14 * min)
	expectStates(t, r, "running running running")
}

// TestUnitsOneWatched: who watches the first unit alone lets the second die under its
// machines.
func TestUnitsOneWatched(t *testing.T) {
	r := playtest.Start(t, twoUnits+lookedAfter+"units = \"first\"\n").To(min).Inject(lost).To(3 * vtime.Hour)
	if h := host(t, r, "right"); h.Ended != "cut" {
		t.Errorf("%+v", h)
	}
}

// TestUnitsSwitchTheirOwn: an order goes to the card whose group it is, and the other
// card refuses it.
func TestUnitsSwitchTheirOwn(t *testing.T) {
	r := playtest.Start(t, twoUnits).To(min)
	order := snap.Command{Op: snap.OpSwitch, Group: "rack_b", Text: "off", By: snap.Actor{Surface: "ssh", Role: snap.Administrator}}
	if res := r.Do(order); res.Status != snap.Inconsistent {
		t.Errorf("the first card switched a group of the second: %+v", res)
	}
	order.Unit = 1
	if res := r.Do(order); res.Status != snap.Done {
		t.Errorf("%+v", res)
	}
	expectStates(t, r, "running running cut")
	order.Unit = 2
	if res := r.Do(order); res.Status != snap.WrongValue {
		t.Errorf("a unit that is not there: %+v", res)
	}
	r.Inject("outlet = { group = \"rack_b\", order = \"on\" }").To(90 * sec)
	expectStates(t, r, "running running booting")
	if g := r.Site.Groups[1]; !g.On || g.Name != "rack_b" {
		t.Errorf("%+v", g)
	}
}

// TestUnitsSpeakForThemselves: each card has its own alarms, notifications and journal.
func TestUnitsSpeakForThemselves(t *testing.T) {
	r := playtest.Start(t, twoUnits).To(min).Inject("unit = \"b\"\ninput = \"open\"").To(2*min + 10*sec)
	if r.Site.Alarms.Count != 0 || !unitB(r).Alarms.Has(snap.AlarmOnBattery) {
		t.Errorf("alarms: %d, %d", r.Site.Alarms.Count, unitB(r).Alarms.Count)
	}
	if r.Site.Sent[snap.NotifyOnBattery] != 0 || unitB(r).Sent[snap.NotifyOnBattery] == 0 {
		t.Error("notified by the wrong card")
	}
	if !strings.Contains(r.Trace(), "b alarm: on_battery raised") || strings.Contains(r.Trace(), " 0:01:00.000 alarm:") {
		t.Error(r.Trace())
	}
}

// TestUnitsSplitSteps: a site of two units comes to the same whatever the steps.
func TestUnitsSplitSteps(t *testing.T) {
	play := func(every vtime.Tick) string {
		r := playtest.Start(t, twoUnits+lookedAfter)
		for at := every; at <= 20*min; at += every {
			r.To(at)
			switch at {
			case min:
				r.Inject(`input = "open"`)
			case 4 * min:
				r.Inject("unit = \"b\"\ninput = \"open\"")
			case 12 * min:
				r.Inject(`input = "closed"`)
			}
		}
		return r.Trace()
	}
	if coarse, fine := play(min), play(100*vtime.Millisecond*3); coarse != fine {
		t.Errorf("the traces differ:\n%s\n%s", coarse, fine)
	}
}

// TestUnitsByHand: who stops the site by hand stops what is watched of it.
func TestUnitsByHand(t *testing.T) {
	for _, units := range []string{"all", "first"} {
		r := playtest.Start(t, twoUnits+lookedAfter+"units = \""+units+"\"\n").To(min).Inject(`policy = "stop"`).To(6 * min)
		if r.Site.UPS.OutputOn || unitB(r).UPS.OutputOn == (units == "all") {
			t.Errorf("%s: output on: %v, %v", units, r.Site.UPS.OutputOn, unitB(r).UPS.OutputOn)
		}
	}
}

// TestNeedsStopToo: what needs a machine that has to be stopped is stopped before it, its
// own second supply or not, in chains of any length.
func TestNeedsStopToo(t *testing.T) {
	chain := twoUnits
	before := "left"
	for _, name := range []string{"c1", "c2", "c3", "c4"} {
		chain += "[[host]]\nname = \"" + name + "\"\ngroups = [\"rack_a\", \"rack_b\"]\ndraw_w = 10\nstop_takes = \"10s\"\nneeds = [\"" + before + "\"]\n"
		before = name
	}
	r := playtest.Start(t, chain+lookedAfter).To(min).Inject(`input = "open"`).To(10 * min)
	for _, name := range []string{"left", "c1", "c2", "c3", "c4"} {
		if h := host(t, r, name); h.Ended != "clean" {
			t.Errorf("%s: %+v", name, h)
		}
	}
	if h := host(t, r, "both"); h.State != snap.HostRunning {
		t.Errorf("%+v", h)
	}
}
