package budget_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/plan"
)

// anySite is a site with a policy, drawn at random.
func anySite(r *rapid.T) string {
	var b strings.Builder
	draw := func(name string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(r, name) }
	one := func(name string, of ...string) string { return rapid.SampledFrom(of).Draw(r, name) }
	fmt.Fprintf(&b, "title = \"random\"\nrun_for = \"1h\"\n[ups]\nrating_va = 6000\nrating_w = 5400\ntopology = %q\n", one("topology", "VI", "VFI"))
	fmt.Fprintf(&b, "[battery]\nblock = %q\nseries = %d\nstrings = %d\ncoldest_c = %d\nhottest_c = %d\nage_years = %d\nlearned = %v\n",
		one("block", "agm-12v-9ah", "agm-12v-7ah"), draw("series", 4, 8), 1, draw("cold", -5, 20), draw("hot", 25, 38), draw("age", 0, 8), one("learned", "a", "b") == "a")
	fmt.Fprintf(&b, "estimate = { filter = \"%ds\", quantum = \"%ds\" }\n", draw("filter", 0, 20), 60*draw("quantum", 0, 1))
	b.WriteString("[[group]]\nname = \"a\"\n[[group]]\nname = \"b\"\n")
	for i := range draw("hosts", 2, 5) {
		fmt.Fprintf(&b, "[[host]]\nname = \"h%d\"\ngroup = %q\ndraw_w = %d\nidle_w = %d\nstop_takes = \"%dms\"\n",
			i, one("group", "a", "b"), draw("draw", 150, 500), draw("idle", 0, 20), draw("stop", 1000, 200000))
		if i > 0 && one("lonely", "yes", "no") == "no" {
			fmt.Fprintf(&b, "needs = [\"h%d\"]\n", draw("needs", 0, i-1))
		}
	}
	fmt.Fprintf(&b, "[policy]\non_battery_for = \"%ds\"\npoll_every = \"%ds\"\nconfirm = %d\norder = %q\nhost_deadline = \"%ds\"\noff_delay = \"60s\"\n",
		draw("for", 1, 300), draw("poll", 1, 12), draw("confirm", 1, 3), one("order", "by-needs", "all-at-once"), draw("deadline", 100, 400))
	return b.String()
}

// TestRandomSitesAgainstTheEngine: for any site the settings that are said to be needed
// work, one step less does not, and the verdict is that of the engine. Where stops that
// are half a percent shorter or longer would turn the answer it is too close to call:
// the two walk the battery in different steps.
func TestRandomSitesAgainstTheEngine(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		p := load(r, anySite(r))
		b := bare(p)
		easy, hard := budget.Of(p, options(-0.5)), budget.Of(p, options(0.5))
		if easy.Holds == hard.Holds && b.Holds != inAll(r, p, ms, nil) {
			r.Fatalf("as set: the budget says %v, the engine does not", b.Holds)
		}
		for kind, row := range map[budget.Kind]struct {
			set  func(int64) func(*plan.Plan)
			step int64
		}{budget.OnBatteryFor: {onBattery, 1}, budget.LowBattery: {lowBattery, -1}} {
			n := setting(b, kind).Needed
			close := setting(easy, kind).Needed != n || setting(hard, kind).Needed != n
			switch {
			case n < 0 || close:
			case !inPhases(r, p, row.set(n)):
				r.Fatalf("setting %d: %d does not do", kind, n)
			case n+row.step > 0 && inWorstPhase(r, p, row.set(n+row.step)):
				r.Fatalf("setting %d: %d does too, not only %d", kind, n+row.step, n)
			}
		}
	})
}
