package engine_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// randomSite is a valid scenario at the edges of what the schema allows.
func randomSite(t *rapid.T) string {
	var b strings.Builder
	pick := func(label string, of ...string) string { return rapid.SampledFrom(of).Draw(t, label) }
	fmt.Fprintf(&b, "title = \"t\"\nrun_for = \"2h\"\n[ups]\nqualify = %q\nhysteresis_v = %s\nauto_restart = %s\nshutdown_type = %q\n",
		pick("qualify", "0s", "5s"), pick("hysteresis", "0", "5"), pick("auto", "true", "false"), pick("type", "output", "system"))
	fmt.Fprintf(&b, "[battery]\ncapacity_ah = %s\ncharge_pct = %s\n", pick("ah", "0.5", "9", "100"), pick("charge", "0", "50", "100"))
	fmt.Fprintf(&b, "[card]\nboot_takes = %q\nrestart_aborts = %s\n", pick("boot", "0s", "75s"), pick("aborts", "true", "false"))
	fmt.Fprintf(&b, "[network]\ndhcp = \"late\"\nlate = \"90s\"\n")
	fmt.Fprintf(&b, "[[group]]\nname = \"a\"\n[[group]]\nname = \"b\"\non_delay = %q\noff_delay = %q\n", pick("on", "0s", "7s"), pick("off", "0s", "none"))
	for i, name := range []string{"x", "y", "z"} {
		fmt.Fprintf(&b, "[[host]]\nname = %q\ngroup = %q\ndraw_w = %s\nidle_w = 0\nhold_up = \"0ms\"\nstop_takes = %q\nboot_takes = %q\nrestart = %q\n",
			name, pick("group", "a", "b"), pick("draw", "0", "300", "2500"), pick("stop", "0s", "1m"), pick("boots", "0s", "1m"), pick("restart", "on", "last", "off"))
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

// entries are things that happen, as the bench says them.
var entries = []string{
	`source = "lost"`, `source = "normal"`, `source = {volts = 190}`, `source = {sag_pct = 75, lasts = "300ms"}`, `source = {hz = 40}`,
	`source = {volts = 0, lasts = "1ms"}`, `card = "restart"`, `test = "quick-battery"`, `test = "deep-calibration"`, `test = "abort"`,
	`test = "general-systems"`, `charger = "failed"`, `charger = "working"`, `dhcp = "absent"`, `dhcp = "present"`, `output = "off"`, `output = "on"`,
	`charge_pct = 0`, `charge_pct = 100`, `alarm = {raise = "on_battery"}`, `alarm = {clear = "on_battery"}`, `alarm = {raise = "fan_failure"}`,
	"host = \"x\"\norder = \"stop\"", "host = \"y\"\norder = \"stop\"\nhangs = true", "host = \"x\"\ndraw_w = 5000",
}

var variables = []snap.Var{
	snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot, snap.VarShutdownType, snap.VarAutoRestart, snap.VarAudible,
	snap.VarLowBattTime, snap.VarLowTransfer, snap.VarHighTransfer, snap.VarTestSpinLock, snap.VarAuthenTraps, snap.VarInputVoltage,
}

func randomPlay(t *rapid.T, r *playtest.Run) {
	switch rapid.IntRange(0, 9).Draw(t, "play") {
	case 0, 1, 2, 3, 4:
		r.Inject(rapid.SampledFrom(entries).Draw(t, "entry"))
	case 5, 6, 7:
		r.Set(snap.Assignment{
			Var: rapid.SampledFrom(variables).Draw(t, "variable"),
			Int: rapid.SampledFrom([]int64{-1, 0, 1, 2, 3, 10, 180, 200, 220, 240, 270}).Draw(t, "value"),
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
			}
		}
		if what := unbalanced(r.Site.Power); what != "" {
			t.Fatal(what)
		}
	})
}

// plausible checks what holds at every instant.
func plausible(t *rapid.T, r *playtest.Run) {
	s := r.Site
	fail := func(what string) { t.Fatalf("at %v: %s\n%s", s.Tick, what, r.Trace()) }
	switch b := s.Battery; {
	case s.UPS.OutputOn != (s.UPS.Source != snap.SourceNone):
		fail("output and source disagree")
	case s.UPS.OutputOn && !s.UPS.SystemOn:
		fail("an output without a system")
	case (s.UPS.OnBatterySince != vtime.Never) != (s.UPS.Source == snap.SourceBattery):
		fail("the counter of seconds on battery disagrees with the source")
	case s.ChargePct < 0 || s.ChargePct > 100 || b.RuntimeS < 0 || b.Volts < 0 || math.IsNaN(b.Volts+b.Amps+b.TempC+b.RuntimeS):
		fail(fmt.Sprintf("battery %+v at %v %%", b, s.ChargePct))
	case (s.Test.Result == snap.ResultInProgress) != (s.Test.Ended == vtime.Never && s.Test.ID != snap.TestNone):
		fail(fmt.Sprintf("test %+v", s.Test))
	case min3(s.Control.ShutdownAt, s.Control.StartupAt, s.Control.RebootUntil) <= s.Tick:
		fail(fmt.Sprintf("a countdown has run out: %+v", s.Control))
	}
	for i, h := range s.Hosts {
		alive := h.State == snap.HostRunning || h.State == snap.HostBooting || h.State == snap.HostStopping
		if alive && !h.Powered || h.State == snap.HostStopped && !h.Powered || h.Powered && !s.UPS.OutputOn || h.State == snap.HostCut && h.Powered {
			fail(fmt.Sprintf("host %d: %+v", i, h))
		}
	}
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
