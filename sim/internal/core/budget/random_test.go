package budget_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/plan"
	_ "ridethrough/sim/internal/drawn"
)

// draws are what a site is made of at random.
type draws struct {
	*rapid.T
	strings.Builder
}

func (d *draws) number(name string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(d.T, name) }

func (d *draws) one(name string, of ...string) string { return rapid.SampledFrom(of).Draw(d.T, name) }

func (d *draws) say(format string, args ...any) { fmt.Fprintf(&d.Builder, format+"\n", args...) }

// battery draws unit and battery, hosts as many machines on groups a and b.
func (d *draws) battery() {
	d.say("title = \"random\"\nrun_for = \"1h\"\n[ups]\nrating_va = 6000\nrating_w = 5400\nlow_battery_minutes = %d", d.number("low", 1, 20))
	d.say("topology = %q", d.one("topology", "VI", "VFI"))
	d.say("[battery]")
	switch d.one("kind", "usual", "usual", "usual", "weak", "weak beside", "open", "lithium") {
	case "usual":
		d.say("block = %q", d.one("block", "agm-12v-9ah", "agm-12v-7ah"))
	case "weak":
		d.say("block = \"agm-12v-9ah\"\nweak_block = { capacity_pct = %d, resistance_pct = %d }", d.number("capacity", 40, 100), d.number("resistance", 100, 300))
	case "weak beside":
		d.say("block = \"agm-12v-9ah\"\nstrings = %d\nweak_block = { capacity_pct = %d, resistance_pct = %d }", d.number("strings", 2, 3), d.number("capacity", 30, 100), d.number("resistance", 100, 300))
	case "open":
		d.say("block = \"agm-12v-9ah\"\nstrings = 2\nopen_block = true")
	case "lithium":
		d.say("block = \"lfp-12.8v-20ah\"\nstrings = %d", d.number("strings", 1, 2))
	}
	d.say("series = %d\ncoldest_c = %d\nhottest_c = %d", d.number("series", 5, 7), d.number("cold", -5, 20), d.number("hot", 25, 38))
	d.say("age_years = %d\nlearned = %s", d.number("age", 0, 8), d.one("learned", "true", "false"))
	d.say("estimate = { filter = \"%ds\", quantum = \"%ds\" }", d.number("filter", 0, 20), 60*d.number("quantum", 0, 1))
}

func (d *draws) hosts(longest int) {
	for i := range d.number("hosts", 2, 5) {
		d.say("[[host]]\nname = \"h%d\"\ngroups = [%s]", i, d.one("groups", `"a"`, `"b"`, `"a", "b"`))
		d.say("draw_w = %d\nidle_w = %d\nstop_takes = \"%dms\"", d.number("draw", 250, 600), d.number("idle", 0, 20), d.number("stop", 1000, longest))
		if i > 0 && d.one("lonely", "yes", "no") == "no" {
			d.say("needs = [\"h%d\"]", d.number("needs", 0, i-1))
		}
	}
}

func (d *draws) policy() {
	d.say("[policy]\npoll_every = \"%ds\"\nconfirm = %d", d.number("poll", 1, 12), d.number("confirm", 1, 3))
	d.say("order = %q\nhost_deadline = \"%ds\"", d.one("order", "by-needs", "all-at-once"), d.number("deadline", 100, 400))
}

// rules draws groups with delays and rules of their own.
func (d *draws) rules() {
	for _, name := range []string{"a", "b"} {
		d.say("[[group]]\nname = %q", name)
		switch d.one("rule", "none", "none", "delay", "after", "charge", "runtime") {
		case "delay":
			d.say("off_delay = \"%ds\"", d.number("delay", 0, 300))
		case "after":
			d.say("shed_after = \"%ds\"", d.number("after", 100, 900))
		case "charge":
			d.say("shed_charge_pct = %d", d.number("pct", 1, 60))
		case "runtime":
			d.say("shed_runtime = \"%ds\"", d.number("runtime", 10, 600))
		}
	}
}

// TestRandomSitesAgainstTheEngine: for any site the settings that are said to be needed
// work, one step less does not, the latest moment to begin is one, and the verdict is
// that of the engine. What the budget allows always has to work; what it does not allow
// has to fail, unless a site that is a little easier turns its answer.
func TestRandomSitesAgainstTheEngine(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		d := &draws{T: r}
		d.battery()
		d.say("[[group]]\nname = \"a\"\n[[group]]\nname = \"b\"")
		d.hosts(200000)
		d.policy()
		d.say("on_battery_for = \"%ds\"", d.number("for", 1, 300))
		if wrong := againstTheEngine(r, load(r, d.String()), d.number("condition", 0, 3)); wrong != "" {
			r.Fatalf("%s\n%s", wrong, d.String())
		}
	})
}

// againstTheEngine says in what the budget of p is wrong, "" if in nothing. Of the
// conditions it plays the latest moment of one.
func againstTheEngine(t T, p *plan.Plan, condition int) string {
	t.Helper()
	b, easy := bare(p), bare(easier(p))
	switch {
	case b.Holds && !inPhases(t, p, func(*plan.Plan) {}):
		return "as set: the budget holds, and the engine fails"
	case !easy.Holds && inAll(t, p, ms, nil):
		return "as set: the budget does not hold, and the engine does not fail"
	}
	for kind, row := range map[budget.Kind]struct {
		set  func(int64) func(*plan.Plan)
		step int64
	}{budget.OnBatteryFor: {onBattery, 1}, budget.LowBattery: {lowBattery, -1}} {
		n := setting(b, kind).Needed
		if n < 0 {
			continue
		}
		if !inPhases(t, p, row.set(n)) {
			return fmt.Sprintf("setting %d: %d does not do", kind, n)
		}
		less := n + row.step
		if kind == budget.LowBattery {
			less += row.step // of whole minutes the worst phase of polls and estimate may take one more than those played
		}
		if close := setting(easy, kind).Needed != n; !close && less > 0 && inWorstPhase(t, p, row.set(less)) {
			return fmt.Sprintf("setting %d: %d does too, not only %d", kind, less, n)
		}
	}
	c := &b.Conditions[condition]
	return onLatest(t, p, c)
}

// TestRandomRulesAgainstTheEngine: with any one trigger, any countdown and any rules of
// the groups, a budget that holds does so in the engine, and one that does not fails
// there, if not at every phase of the polls then at the worst.
func TestRandomRulesAgainstTheEngine(t *testing.T) {
	t.Parallel()
	held, failed := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		d := &draws{T: r}
		d.battery()
		d.rules()
		d.hosts(100000)
		d.policy()
		d.say("off_when = %q\noff_delay = \"%ds\"", d.one("off", "stopped", "at-once"), d.number("countdown", 30, 900))
		switch d.one("trigger", "time", "runtime", "charge", "low") {
		case "time":
			d.say("on_battery_for = \"%ds\"", d.number("for", 1, 300))
		case "runtime":
			d.say("runtime_below = \"%ds\"", d.number("below", 60, 900))
		case "charge":
			d.say("charge_below_pct = %d", d.number("pct", 20, 90))
		case "low":
			d.say("on_low_battery = true")
		}
		p := load(r, d.String())
		holds := bare(p).Holds
		switch {
		case holds && !inWorstPhase(r, p, func(*plan.Plan) {}):
			r.Fatalf("the budget holds, and the engine fails\n%s", d.String())
		case !bare(easier(p)).Holds && inWorstPhase(r, p, func(*plan.Plan) {}):
			r.Fatalf("the budget does not hold, and the engine does not fail\n%s", d.String())
		case holds:
			held++
		default:
			failed++
		}
	})
	if held < 2 || failed < 2 {
		t.Errorf("%d held, %d did not: the sites are too much alike", held, failed)
	}
}
