package budget_test

import (
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/vtime"
)

// TestOtherSitesAgainstTheEngine: batteries with faults and of lithium, other classes of
// unit, hosts with a second supply past the unit: the longest time on battery works, one
// more poll does not.
func TestOtherSitesAgainstTheEngine(t *testing.T) {
	t.Parallel()
	const twoFeeds = "[[group]]\nname = \"a\"\n[[group]]\nname = \"wall\"\nfed_by = \"mains\"\n[[host]]\nname = \"both\"\ngroups = [\"a\", \"wall\"]\ndraw_w = 300\nstop_takes = \"70s\"\n" +
		"[[host]]\nname = \"past\"\ngroup = \"wall\"\ndraw_w = 300\n"
	for name, src := range map[string]string{
		"weak block":       strings.Replace(rack, "series = 6\n", "series = 6\nstrings = 2\nweak_block = { capacity_pct = 55, resistance_pct = 180 }\n", 1),
		"only string weak": strings.Replace(rack, "series = 6\n", "series = 8\nweak_block = { capacity_pct = 75 }\n", 1),
		"open block":       strings.Replace(rack, "series = 6\n", "series = 6\nstrings = 2\nopen_block = true\n", 1),
		"lithium":          strings.Replace(rack, `block = "agm-12v-9ah"`, "block = \"lfp-12.8v-10ah\"\nstrings = 2", 1),
		"standby":          strings.Replace(rack, "[battery]", "[ups]\ntopology = \"VFD\"\n[battery]", 1),
		"two feeds":        "title = \"two feeds\"\nrun_for = \"1h\"\n" + twoFeeds + "[policy]\non_battery_for = \"2m\"\n",
	} {
		p := load(t, src)
		b := bare(p)
		n := setting(b, budget.OnBatteryFor).Needed
		if len(b.Troubles) > 0 || n < 10 {
			t.Errorf("%s: %d s, %q", name, n, b.Troubles)
			continue
		}
		if !inAll(t, p, ms, onBattery(n)) {
			t.Errorf("%s: %d s fails", name, n)
		}
		if inAll(t, p, ms, onBattery(n+1)) {
			t.Errorf("%s: more than %d s does too", name, n)
		}
	}
}

// TestTroubles: what no time helps against is told, and the budget does not hold.
func TestTroubles(t *testing.T) {
	for want, row := range map[string][2]string{
		"of what it carries":           {"draw_w = 350", "draw_w = 3500"},
		"never finishes stopping":      {`name = "web"`, "name = \"web\"\nhangs = true"},
		"is not stopped: its channel":  {`name = "web"`, "name = \"web\"\nchannel = \"certificate-expired\""},
		"does not ride through":        {`name = "web"`, "name = \"web\"\nhold_up = \"1ms\""},
		"which no group of the unit f": {"[battery]", "[[group]]\nname = \"a\"\n[[group]]\nname = \"wall\"\nfed_by = \"mains\"\n[battery]"},
	} {
		src := strings.Replace(rack, row[0], row[1], 1)
		if strings.Contains(row[1], "wall") {
			src = strings.Replace(src, `name = "storage"`, "name = \"storage\"\ngroup = \"wall\"", 1)
			src = strings.NewReplacer(`name = "db"`, "name = \"db\"\ngroup = \"a\"", `name = "web"`, "name = \"web\"\ngroup = \"a\"").Replace(src)
		}
		b := bare(load(t, src))
		if b.Holds || !strings.Contains(strings.Join(b.Troubles, "\n"), want) {
			t.Errorf("%q: holds %v, %q", want, b.Holds, b.Troubles)
		}
	}
}

// TestRulesOfGroupsAgainstTheEngine: a group that goes off by charge or runtime cuts its
// hosts if that comes before they have stopped, from the same figure on as in the engine.
func TestRulesOfGroupsAgainstTheEngine(t *testing.T) {
	t.Parallel()
	for name, rule := range map[string]string{"charge": "shed_charge_pct = %d", "runtime": "shed_runtime = \"%d0s\"", "time": "shed_after = \"%d0s\""} {
		held := 0
		for n := 5; n <= 95; n += 10 {
			group := "[[group]]\nname = \"a\"\n" + fmt.Sprintf(rule, n) + "\n[[group]]\nname = \"b\"\n[[host]]"
			src := strings.Replace(rack, "[[host]]", group, 1)
			src = strings.NewReplacer(`name = "db"`, "name = \"db\"\ngroup = \"a\"", `name = "web"`, "name = \"web\"\ngroup = \"a\"", `name = "storage"`, "name = \"storage\"\ngroup = \"b\"").Replace(src)
			p := load(t, src)
			holds := bare(p).Holds
			if holds {
				held++
			}
			if engine := inAll(t, p, ms, nil); engine != holds {
				t.Errorf("%s: the budget says %v, the engine %v", fmt.Sprintf(rule, n), holds, engine)
			}
		}
		if held == 0 || held == 10 {
			t.Errorf("%s: %d of 10 held, so that nothing was tried", name, held)
		}
	}
}

// TestTemperatureDecidesNothing: a budget is of an outage, whose hosts a limit of the
// inlet does not stop: alone it leaves them to the battery, beside another it is not
// looked at.
func TestTemperatureDecidesNothing(t *testing.T) {
	p := load(t, rack)
	want := bare(p)
	p.Policy.InletAbove, p.Policy.Inlet = 35, "inlet"
	if got := bare(p); got.Holds != want.Holds || got.Conditions[got.Worst].Decided != want.Conditions[want.Worst].Decided {
		t.Errorf("%+v, want %+v", got, want)
	}
	p.Policy.OnBatteryFor = 0
	if got := bare(p); got.Holds || got.Conditions[got.Worst].Decided != vtime.Never {
		t.Errorf("with nothing else: %+v", got)
	}
}

// TestSitesThatDiffered: sites found at random for which the budget once was late.
func TestSitesThatDiffered(t *testing.T) {
	t.Parallel()
	const groups = "[[group]]\nname = \"a\"\n[[group]]\nname = \"b\"\n"
	host := func(name, groups string, draw, idle int, stop, more string) string {
		return fmt.Sprintf("[[host]]\nname = %q\ngroups = [%s]\ndraw_w = %d\nidle_w = %d\nstop_takes = %q\n%s\n", name, groups, draw, idle, stop, more)
	}
	for name, src := range map[string]string{
		// Of hours, in which steps that lie otherwise come to 12 ms.
		"lithium": "series = 5\nblock = \"lfp-12.8v-20ah\"\nstrings = 2\ncoldest_c = -1\nhottest_c = 26\nage_years = 3\nlearned = true\nestimate = { filter = \"20s\", quantum = \"60s\" }\n" +
			groups + host("h0", `"a", "b"`, 285, 6, "15146ms", "") + host("h1", `"a", "b"`, 253, 0, "1000ms", "") +
			"[policy]\npoll_every = \"2s\"\nconfirm = 2\nhost_deadline = \"100s\"\non_battery_for = \"22s\"\n",
		// The safety was reckoned at the load after the last stop, which is next to nothing.
		"weak block beside a string": "series = 6\nblock = \"agm-12v-9ah\"\nstrings = 2\nweak_block = { capacity_pct = 30, resistance_pct = 102 }\ncoldest_c = -2\nhottest_c = 25\nage_years = 1\nlearned = true\nestimate = { filter = \"2s\", quantum = \"0s\" }\n" +
			groups + host("h0", `"a"`, 313, 0, "1000ms", "") + host("h1", `"a", "b"`, 250, 1, "1000ms", `needs = ["h0"]`) + host("h2", `"a"`, 250, 1, "1210ms", "") +
			"[policy]\npoll_every = \"3s\"\nconfirm = 2\norder = \"all-at-once\"\nhost_deadline = \"100s\"\non_battery_for = \"1s\"\n",
		// Volts of the step's mean current had the engine's battery end sooner or later with
		// the tick of the loss.
		"all at once": "series = 5\nblock = \"agm-12v-9ah\"\ncoldest_c = 0\nhottest_c = 31\nage_years = 5\nlearned = false\nestimate = { filter = \"15s\", quantum = \"0s\" }\n" +
			groups + host("h0", `"a"`, 255, 2, "41842ms", "") + host("h1", `"b"`, 367, 10, "1001ms", "") +
			"[policy]\npoll_every = \"12s\"\norder = \"all-at-once\"\nhost_deadline = \"106s\"\non_battery_for = \"47s\"\n",
	} {
		p := load(t, "title = \"x\"\nrun_for = \"1h\"\n[ups]\nrating_va = 6000\nrating_w = 5400\nlow_battery_minutes = 10\ntopology = \"VI\"\n[battery]\n"+src)
		for i := range 4 {
			if wrong := againstTheEngine(t, p, i); wrong != "" {
				t.Errorf("%s: %s", name, wrong)
			}
		}
	}
}
