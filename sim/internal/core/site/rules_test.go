package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// shedding is a group that stays and one with a rule, which follows.
const shedding = head + `
[battery]
block = "agm-12v-9ah"
series = 6
[[group]]
name = "racks"
[[host]]
name = "store"
group = "racks"
draw_w = 500
[[host]]
name = "desk"
group = "desks"
draw_w = 200
[[group]]
name = "desks"
`

// TestShedRules: each rule alone, where it begins to hold, to the step of the unit's
// own estimate; the other group stays; the mains bring it back after its delay.
func TestShedRules(t *testing.T) {
	for name, row := range map[string]struct {
		rule  string
		holds func(*snap.Site) bool
	}{
		"time":    {`shed_after = "90s"`, func(s *snap.Site) bool { return s.Tick >= min+90*sec }},
		"runtime": {`shed_runtime = "10m"`, func(s *snap.Site) bool { return s.Battery.RuntimeS < 600 }},
		"charge":  {`shed_charge_pct = 80`, func(s *snap.Site) bool { return s.Battery.ChargePct < 80 }},
	} {
		r := playtest.Start(t, shedding+row.rule+"\non_delay = \"10s\"\n").To(min).Inject(lost)
		for r.Site.Groups[1].On && r.Engine.Now() < vtime.Hour {
			before := row.holds(r.Site)
			if r.Step(); before && r.Site.Groups[1].On {
				t.Fatalf("%s: it held at %v, and the group is on", name, r.Engine.Now())
			}
		}
		if r.Site.Groups[1].On || !r.Site.Groups[0].On || r.Site.Groups[1].Cause != snap.CauseShed {
			t.Errorf("%s: %+v", name, r.Site.Groups)
		}
		if c := r.Site.Battery.ChargePct; name == "charge" && c < 79.9999 {
			t.Errorf("shed at %.4f %%", c)
		}
		if name == "time" && r.Engine.Now() != min+90*sec {
			t.Errorf("shed at %v", r.Engine.Now())
		}
		now := r.Engine.Now()
		r.Inject(normal).To(now + 15*sec - ms)
		expectGroups(t, r, "10")
		expectGroups(t, r.To(now+15*sec), "11")
	}
}

// TestNoSheddingInATest: battery operation in a self test is no outage, and on mains
// no charge is too little.
func TestNoSheddingInATest(t *testing.T) {
	r := playtest.Start(t, shedding+"shed_after = \"1s\"\nshed_charge_pct = 90\n").To(min).Inject(`test = "quick-battery"`).To(2 * min)
	r.Inject("charge_pct = 50").To(3 * min)
	if r.Count("shed") != 0 {
		t.Error(r.Trace())
	}
}

// TestShedAcrossACardRestart: the rule is the unit's: a card that restarts in the
// outage does not begin to count anew (incident 11).
func TestShedAcrossACardRestart(t *testing.T) {
	r := playtest.Start(t, shedding+"shed_after = \"3m\"\n").To(min).Inject(lost).To(3 * min).Inject(`card = "restart"`)
	expectGroups(t, r.To(4*min-ms), "11")
	expectGroups(t, r.To(4*min), "10")
}

// TestGroupGate: below its charge a group stays off although the output is on; then
// its delay runs.
func TestGroupGate(t *testing.T) {
	r := playtest.Start(t, shedding+"min_charge_pct = 50\nmin_off = \"20s\"\non_delay = \"10s\"\n").To(min).Inject(`output = "off"`)
	r.Inject("charge_pct = 45").To(2 * min).Inject(`output = "on"`).To(3 * min)
	expectGroups(t, r, "10")
	if r.Site.Groups[1].Cause != snap.CauseShort {
		t.Errorf("%+v", r.Site.Groups[1])
	}
	for r.Site.Battery.ChargePct < 50 {
		r.Step()
	}
	at := r.Engine.Now()
	if c := r.Site.Battery.ChargePct; c > 50.001 {
		t.Errorf("its delay begins at %.4f %%", c)
	}
	expectGroups(t, r.To(at+10*sec-ms), "10")
	expectGroups(t, r.To(at+10*sec), "11")
}

// save puts other settings in force, as a technician does.
func save(t *testing.T, r *playtest.Run, change func(*snap.Settings)) {
	t.Helper()
	s := r.Site.Card.Saved.Clone()
	change(s)
	if got := r.Do(snap.Command{Op: snap.OpSave, By: snap.Actor{Surface: "ssh", User: "kim", Role: snap.Administrator}, Settings: s}); got.Status != snap.Done {
		t.Fatal(got)
	}
}

// TestSettingsOfGroups: they are in force when they are saved, the map of hosts that
// the card shows with them; entries can neither come nor go.
func TestSettingsOfGroups(t *testing.T) {
	r := playtest.Start(t, strings.Replace(shedding, `name = "desk"`, "name = \"desk\"\nbelieved_groups = [\"racks\"]", 1)).To(min)
	if r.Site.Groups[1].Right || r.Site.Outlets.Roster.Groups[0].Hosts != "store, desk" {
		t.Errorf("the wrong map: %+v", r.Site.Outlets.Roster.Groups)
	}
	save(t, r, func(s *snap.Settings) {
		s.Groups[0].Hosts, s.Groups[1].Hosts, s.Groups[1].OnDelay = "store", "desk", 7*sec
	})
	if o := r.Site.Outlets.Roster; !r.Site.Groups[1].Right || o.Hosts[1].Fed != "desks" || o.Groups[1].OnDelay != 7*sec {
		t.Errorf("after it was put right: %+v", o)
	}
	r.Inject(`output = "off"`).To(2 * min).Inject(`output = "on"`)
	expectGroups(t, r.To(2*min+7*sec-ms), "10")
	expectGroups(t, r.To(2*min+7*sec), "11")
	s := r.Site.Card.Saved.Clone()
	s.Groups = s.Groups[:1]
	if got := r.Do(snap.Command{Op: snap.OpSave, Settings: s}); got.Status != snap.WrongValue {
		t.Errorf("a group less: %+v", got)
	}
}

// TestSettingsOfTheScenario: what the scenario has set on the card besides is what
// the unit goes by and what the card shows, from the first tick.
func TestSettingsOfTheScenario(t *testing.T) {
	r := playtest.Start(t, strings.Replace(shedding, "[card]\n", "[card]\nsettings = { \"shutdown.group.desks.hosts\" = \"store\", \"shutdown.group.desks.shed-after\" = \"20s\" }\n", 1))
	if o := r.Site.Outlets.Roster; o.Hosts[0].Fed != "racks, desks" || o.Hosts[1].Fed != "" || r.Site.Groups[0].Right == r.Site.Groups[1].Right {
		t.Errorf("%+v, %+v", o.Hosts, r.Site.Groups)
	}
	expectGroups(t, r.To(min).Inject(lost).To(min+20*sec), "10")
}

// TestShortestOffOfAGroup: however soon the output is back, to the tick.
func TestShortestOffOfAGroup(t *testing.T) {
	r := playtest.Start(t, shedding+"min_off = \"15s\"\n").To(min).Inject(`output = "off"`).To(min + 3*sec).Inject(`output = "on"`)
	expectGroups(t, r, "10")
	expectGroups(t, r.To(min+15*sec-ms), "10")
	expectGroups(t, r.To(min+15*sec), "11")
}
