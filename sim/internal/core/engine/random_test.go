package engine_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// randomSite is a valid scenario at the edges of what the schema allows.
func randomSite(t *rapid.T) string {
	var b strings.Builder
	pick := func(label string, of ...string) string { return rapid.SampledFrom(of).Draw(t, label) }
	fmt.Fprintf(&b, "title = \"t\"\nrun_for = \"2h\"\n[ups]\n%s\nqualify = %q\nhysteresis_v = %s\nauto_restart = %s\nshutdown_type = %q\n",
		pick("topology", `topology = "VI"`, `topology = "VFD"`, `topology = "VFI"`, "topology = \"VFI\"\nhigh_efficiency = true", "topology = \"VFI\"\nphases = \"3/1\"",
			"topology = \"VFI\"\nphases = \"3/3\"\nbypass = {fitted = false}", "bypass = {fitted = true}", "topology = \"VFI\"\nbypass = {supply = \"second\"}", "topology = \"VFI\"\nhigh_efficiency = true\nbypass = {supply = \"site\"}"),
		// Not 0s: a charger that is too much for its generator would switch off and on every few
		// milliseconds, as asked for, and the test would take hours.
		pick("qualify", "200ms", "5s"), pick("hysteresis", "0", "5"), pick("auto", "true", "false"), pick("type", "output", "system"))
	fmt.Fprintf(&b, "[battery]\ncapacity_ah = %s\ncharge_pct = %s\n", pick("ah", "0.5", "9", "100"), pick("charge", "0", "50", "100"))
	fmt.Fprintf(&b, "[card]\nboot_takes = %q\nrestart_aborts = %s\n", pick("boot", "0s", "75s"), pick("aborts", "true", "false"))
	fmt.Fprintf(&b, "[network]\ndhcp = \"late\"\nlate = \"90s\"\n")
	second := ""
	if rapid.Bool().Draw(t, "second unit") {
		second = "unit = \"twin\"\n"
		fmt.Fprintf(&b, "[[unit]]\nname = \"twin\"\n%s[unit.ups]\nqualify = \"1s\"\n[unit.battery]\ncapacity_ah = %s\n[unit.card]\nboot_takes = %q\n",
			pick("own feeder", "", "[unit.source]\n"), pick("second ah", "0.5", "9"), pick("second boot", "0s", "75s"))
	}
	fmt.Fprintf(&b, "[[group]]\nname = \"a\"\n[[group]]\nname = \"b\"\n%son_delay = %q\noff_delay = %q\ninrush = {lasts = %q}\n", second,
		pick("on", "0s", "7s"), pick("off", "0s", "none"), pick("inrush", "1ms", "10s"))
	fmt.Fprintf(&b, "[[group]]\nname = \"past\"\nfed_by = \"mains\"\n")
	randomSurroundings(t, &b, pick)
	for i, name := range []string{"x", "y", "z"} {
		fmt.Fprintf(&b, "[[host]]\nname = %q\ngroups = [%s]\ndraw_w = %s\nidle_w = 0\nhold_up = \"0ms\"\nstop_takes = %q\nboot_takes = %q\nrestart = %q\n",
			name, pick("groups", `"a"`, `"b"`, `"a", "past"`, `"past"`, `"a", "b"`), pick("draw", "0", "300", "2500"), pick("stop", "0s", "1m"), pick("boots", "0s", "1m"), pick("restart", "on", "last", "off"))
		if i > 0 {
			fmt.Fprintf(&b, "needs = [\"x\"]\n")
		}
		if i == 2 && rapid.Bool().Draw(t, "process") {
			fmt.Fprintf(&b, "process = [\"program\"]\n")
		}
	}
	if rapid.Bool().Draw(t, "managed") {
		fmt.Fprintf(&b, "[policy]\npoll_every = %q\n%s\noff_delay = %q\noff_when = %q\norder = %q\non_return = %q\nmin_off = \"0s\"\nhost_deadline = \"1s\"\n",
			pick("poll", "100ms", "10s"), pick("trigger", "on_battery_for = \"1s\"", "on_low_battery = true", "charge_below_pct = 100"),
			pick("delay", "0s", "10s"), pick("when", "stopped", "at-once"), pick("order", "by-needs", "all-at-once"), pick("return", "finish", "cancel", "ignore"))
		fmt.Fprintf(&b, "believe = {mains = %q, silence = %q, countdown = %q}\n", pick("mains", "respect", "ignore"), pick("silence", "worst", "mains"), pick("countdown", "verify", "trust"))
	}
	return b.String()
}

// randomSurroundings are source, room and probe.
func randomSurroundings(t *rapid.T, b *strings.Builder, pick func(string, ...string) string) {
	if rapid.Bool().Draw(t, "generator") {
		fmt.Fprintf(b, "[source]\ngenerator = {rating_w = %s, start_after = %q, start_takes = %q, settles = %q, wander_hz = %s, step_hz = %s, cools_down = %q}\n",
			pick("rating", "500", "20000"), pick("after", "0s", "3s"), pick("takes", "0s", "9s"), pick("settles", "0s", "20s"),
			pick("wander", "0", "8"), pick("step", "0", "30"), pick("cools", "0s", "1m"))
		fmt.Fprintf(b, "changeover = {gap = %q, accept = %q, watch = %q}\n", pick("gap", "1ms", "400ms"), pick("accept", "0s", "5s"), pick("watch", "0s", "30s"))
	}
	if rapid.Bool().Draw(t, "room") {
		fmt.Fprintf(b, "[room]\ntemp_c = %s\nvolume_m3 = 10\nequipment_kg = %s\nleak_w_per_k = %s\ncooling_w = %s\ncooling_restarts = %q\n",
			pick("temp", "-20", "24", "60"), pick("equipment", "20", "500"), pick("leak", "0", "100"), pick("cooling", "0", "3000"), pick("cool after", "0s", "3m"))
	}
	if rapid.Bool().Draw(t, "probe") {
		fmt.Fprintf(b, "[[probe]]\nname = \"p\"\nlag = %q\nhumidity = true\nhigh_warn_c = 30\nlow_warn_c = 10\ndelay = %q\n", pick("lag", "0s", "60s"), pick("delay p", "0s", "30s"))
	}
}

// entries are things that happen, as the bench says them.
var entries = []string{
	`source = "lost"`, `source = "normal"`, `source = {volts = 190}`, `source = {sag_pct = 75, lasts = "300ms"}`, `source = {hz = 40}`,
	`source = {volts = 0, lasts = "1ms"}`, `card = "restart"`, `test = "quick-battery"`, `test = "deep-calibration"`, `test = "abort"`,
	`test = "general-systems"`, `charger = "failed"`, `charger = "working"`, `dhcp = "absent"`, `dhcp = "present"`, `output = "off"`, `output = "on"`,
	`bypass = "on"`, `bypass = "off"`, `bypass = "maintenance"`, `inverter = "failed"`, `inverter = "working"`, `source = {line = 1, volts = 0}`,
	`high_efficiency = "on"`, `high_efficiency = "off"`, `fan = "failed"`, `fan = "working"`, `source = {volts = 200}`, `source = {hz = 48.5}`,
	`charge_pct = 0`, `charge_pct = 100`, `alarm = {raise = "on_battery"}`, `alarm = {clear = "on_battery"}`, `alarm = {raise = "fan_failure"}`,
	`source = {volts = 250, over = "30s"}`, `source = {hz = 40, over = "1m"}`, `source = {volts = 0, line = 1, lasts = "3s"}`, `source = {volts = 0, line = 3}`,
	`source = {sag_pct = 30, lasts = "100ms", count = 5, every = "2s", jitter = "1s", lasts_up_to = "1s"}`,
	`generator = "failed"`, `generator = "working"`, `input = "open"`, `input = "closed"`, `cooling = "failed"`, `cooling = "working"`,
	`fan = "failed"`, `fan = "working"`, `inverter = "failed"`, `inverter = "working"`, `bypass = "maintenance"`, `bypass = "off"`,
	"host = \"x\"\norder = \"stop\"", "host = \"y\"\norder = \"stop\"\nhangs = true", "host = \"x\"\ndraw_w = 5000",
}

// secondEntries are those for a bypass with a feed of its own.
var secondEntries = []string{
	`bypass_source = "lost"`, `bypass_source = "normal"`, `bypass_source = {volts = 200}`, `bypass_source = {hz = 51}`, `bypass_source = {hz = 47, over = "1m"}`,
	`bypass_source = {sag_pct = 30, lasts = "10ms", count = 5, every = "2s"}`, `bypass_source = {volts = 0, line = 2}`,
}

// unitSources are those for a second unit with a feeder of its own, unitEntries those for
// any.
var unitSources = []string{`source = "lost"`, `source = "normal"`, `source = {volts = 180}`}

var unitEntries = []string{
	`generator = "failed"`, `generator = "working"`, `input = "open"`, `input = "closed"`, `output = "off"`, `output = "on"`, `card = "restart"`,
	`ups_link = "lost"`, `ups_link = "up"`, `charger = "failed"`, `test = "quick-battery"`, `charge_pct = 0`, `charge_pct = 100`, `link = "down"`, `link = "up"`,
}

var variables = []snap.Var{
	snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot, snap.VarShutdownType, snap.VarAutoRestart, snap.VarAudible,
	snap.VarLowBattTime, snap.VarLowTransfer, snap.VarHighTransfer, snap.VarTestSpinLock, snap.VarAuthenTraps, snap.VarInputVoltage,
}

func randomPlay(t *rapid.T, r *playtest.Run) {
	switch rapid.IntRange(0, 9).Draw(t, "play") {
	case 0, 1, 2, 3, 4:
		list := entries
		if r.Plan.UPS.Bypass.Supply == plan.BypassSecond {
			list = slices.Concat(entries, secondEntries, secondEntries)
		}
		unit := ""
		if len(r.Plan.Units) > 0 && rapid.Bool().Draw(t, "of the second") {
			list, unit = unitEntries, "unit = \"twin\"\n"
			if !r.Plan.Units[0].SharedSource {
				list = slices.Concat(unitEntries, unitSources)
			}
		}
		r.Inject(unit + rapid.SampledFrom(list).Draw(t, "entry"))
	case 5, 6, 7:
		r.Do(snap.Command{
			Op: snap.OpSet, By: snap.Actor{Surface: "snmp"}, Unit: rapid.IntRange(0, len(r.Plan.Units)).Draw(t, "unit"),
			Sets: []snap.Assignment{{
				Var: rapid.SampledFrom(variables).Draw(t, "variable"),
				Int: rapid.SampledFrom([]int64{-1, 0, 1, 2, 3, 10, 180, 200, 220, 240, 270}).Draw(t, "value"),
			}},
		})
	case 8:
		r.Set(snap.Assignment{Var: snap.VarTestSpinLock, Int: int64(r.Site.Test.SpinLock)}, snap.Assignment{Var: snap.VarTestID, Int: rapid.Int64Range(0, 6).Draw(t, "test")})
	case 9:
		r.Do(snap.Command{Op: rapid.SampledFrom([]snap.Op{snap.OpRestart, snap.OpProcEnded, snap.OpAuthFail}).Draw(t, "op"), Host: "z"})
	}
}

// TestAnythingGoes: whatever happens, in any order, every instant settles, time
// goes on, and the site stays what it can be.
func TestAnythingGoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := playtest.Start(t, randomSite(t))
		for range rapid.IntRange(1, 40).Draw(t, "plays") {
			randomPlay(t, r)
			plausible(t, r)
			upToDate(t, r)
			until := r.Engine.Now() + vtime.Tick(rapid.SampledFrom([]int{0, 1, 999, 5000, 61_000, 600_000}).Draw(t, "wait"))
			for steps := 0; r.Engine.Now() < until; steps++ {
				before := r.Engine.Now()
				if r.Step(); r.Engine.Now() <= before {
					t.Fatalf("time stands still at %v", before)
				}
				if steps > 20_000 {
					t.Fatalf("%d steps from %v to %v", steps, until-600_000, r.Engine.Now())
				}
				plausible(t, r)
				if steps%5 == 0 {
					upToDate(t, r)
				}
			}
		}
		for _, s := range slices.Concat(r.Site.Units, []*snap.Site{r.Site}) {
			if what := unbalanced(s.Power); what != "" {
				t.Fatal(s.Unit, what)
			}
		}
	})
}

// upToDate checks that the view, which is written only when something it shows has
// changed, is what it would be if it were written now.
func upToDate(t *rapid.T, r *playtest.Run) {
	shown := engine.Frame{Site: r.Site}.Clone()
	r.Engine.Upcoming() // shows a step that is only tried, and then writes the view anew
	now := engine.Frame{Site: r.Site}.Clone()
	for _, s := range slices.Concat([]*snap.Site{now, shown}, now.Units, shown.Units) {
		s.Card.Accounts = nil // have functions, which compare with nothing
	}
	if !reflect.DeepEqual(now, shown) {
		t.Fatalf("at %v the view is out of date:\n%+v\nshown as\n%+v", shown.Tick, now, shown)
	}
}

// plausible checks what holds at every instant.
func plausible(t *rapid.T, r *playtest.Run) {
	plausibleUnit(t, r, r.Plan, r.Site)
	for i, u := range r.Site.Units {
		plausibleUnit(t, r, r.Plan.Units[i], u)
	}
}

func plausibleUnit(t *rapid.T, r *playtest.Run, p *plan.Plan, s *snap.Site) {
	fail := func(what string) { t.Fatalf("at %v: %s\n%s", s.Tick, what, r.Trace()) }
	switch b := s.Battery; {
	case s.UPS.OutputOn != (s.UPS.Source != snap.SourceNone):
		fail("output and source disagree")
	case s.UPS.OutputOn && !s.UPS.SystemOn && s.UPS.Source != snap.SourceBypass: // that may be the one for maintenance
		fail("an output without a system")
	case (s.UPS.OnBatterySince != vtime.Never) != (s.UPS.Source == snap.SourceBattery):
		fail("the counter of seconds on battery disagrees with the source")
	case math.IsNaN(s.Room.TempC+s.Room.HeatW+s.Room.CoolingW+s.Room.HumidityPct+s.Feed.Volts+s.Feed.Hz) || s.Feed.Volts < 0 || s.Feed.Hz < 0 || s.Room.CoolingW < 0:
		fail(fmt.Sprintf("supply %+v, room %+v", s.Feed, s.Room))
	case s.Supply.NotBorne > s.Supply.Events || s.Supply.Switch == snap.OnGenerator && s.Supply.Generator == snap.GeneratorNone:
		fail(fmt.Sprintf("%+v", s.Supply))
	case s.ChargePct < 0 || s.ChargePct > 100 || b.RuntimeS < 0 || b.Volts < 0 || math.IsNaN(b.Volts+b.Amps+b.TempC+b.RuntimeS):
		fail(fmt.Sprintf("battery %+v at %v %%", b, s.ChargePct))
	case (s.Test.Result == snap.ResultInProgress) != (s.Test.Ended == vtime.Never && s.Test.ID != snap.TestNone):
		fail(fmt.Sprintf("test %+v", s.Test))
	case min3(s.Control.ShutdownAt, s.Control.StartupAt, s.Control.RebootUntil) <= s.Tick:
		fail(fmt.Sprintf("a countdown has run out: %+v", s.Control))
	}
	for i, h := range s.Hosts {
		alive := h.State == snap.HostRunning || h.State == snap.HostBooting || h.State == snap.HostStopping
		if alive && !h.Powered || h.State == snap.HostStopped && !h.Powered || h.Powered && !s.UPS.OutputOn && !pastTheUnit(p, i) || h.State == snap.HostCut && h.Powered {
			fail(fmt.Sprintf("host %d: %+v", i, h))
		}
	}
}

// pastTheUnit says whether host i has a supply that is not the unit's.
func pastTheUnit(p *plan.Plan, i int) bool {
	return slices.ContainsFunc(p.Hosts[i].Groups, func(g int) bool { return !p.Feeds(g) })
}

func min3(a, b, c vtime.Tick) vtime.Tick {
	if b < a {
		a = b
	}
	if c < a {
		a = c
	}
	return a
}
