package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// managed is a site of 600 W with a shutdown manager that polls every 10 s; keys
// of its table follow.
const managed = head + `
[ups]
auto_restart = false
[[host]]
name = "storage"
draw_w = 300
stop_takes = "1m"
boot_takes = "2m"
[[host]]
name = "vm"
draw_w = 300
stop_takes = "2m"
boot_takes = "1m"
needs = ["storage"]
[policy]
`

// reached is when the policy first came to a stage, by the trace; Never if not.
func reached(r *playtest.Run, stage string) vtime.Tick {
	return when(r, "policy: "+stage)
}

// when is the time of the first line of the trace with text.
func when(r *playtest.Run, text string) vtime.Tick {
	for line := range strings.Lines(r.Trace()) {
		if at, rest, ok := strings.Cut(line, " "); ok && strings.Contains(rest, text) {
			return tick(at)
		}
	}
	return vtime.Never
}

// tick reads h:mm:ss.mmm.
func tick(s string) vtime.Tick {
	var n [4]vtime.Tick
	part := 0
	for _, c := range s {
		if c < '0' || c > '9' {
			part++
			continue
		}
		n[part] = 10*n[part] + vtime.Tick(c-'0')
	}
	return n[0]*vtime.Hour + n[1]*min + n[2]*sec + n[3]
}

// TestTriggers: each trigger alone, with the poll's granularity (row 42 of the
// needs, incident 18). The mains go at 0:05 past a poll, 1:00:05.
func TestTriggers(t *testing.T) {
	gone := vtime.Hour + 5*sec
	for name, row := range map[string]struct {
		policy string
		before string // injected before the outage
		holds  func(*snap.Site) bool
	}{
		"time":        {`on_battery_for = "65s"`, "", func(s *snap.Site) bool { return s.Tick >= gone+5*sec+65*sec }},
		"runtime":     {`runtime_below = "15m"`, "", func(s *snap.Site) bool { return int(s.Battery.RuntimeS)/60 < 15 }},
		"charge":      {`charge_below_pct = 95`, "", func(s *snap.Site) bool { return s.Battery.ChargePct < 95 }},
		"low battery": {`on_low_battery = true`, "charge_pct = 35", func(s *snap.Site) bool { return s.Battery.Status >= snap.BatteryLow }},
		"the earlier": {"charge_below_pct = 1\non_battery_for = \"65s\"", "", func(s *snap.Site) bool { return s.Tick >= gone+5*sec+65*sec }},
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, managed+row.policy).To(gone)
			if row.before != "" {
				r.Inject(row.before)
			}
			r.Inject(lost)
			held := vtime.Never
			for r.Site.Policy == snap.PolicyWatching && r.Engine.Now() < 2*vtime.Hour {
				r.Step()
				if held == vtime.Never && row.holds(r.Site) {
					held = r.Engine.Now()
				}
			}
			at := reached(r, "stopping")
			poll := (held + 10*sec - ms) / (10 * sec) * (10 * sec)
			if at != poll {
				t.Errorf("held at %v, stopping at %v, want %v", held, at, poll)
			}
		})
	}
}

// TestConfirm: so many polls in a row must agree (incident 24: a spike of load).
func TestConfirm(t *testing.T) {
	src := managed + "runtime_below = \"12m\"\nconfirm = 3\n"
	r := playtest.Start(t, src).To(5 * sec).Inject(lost).To(25 * sec)
	r.Inject("host = \"vm\"\ndraw_w = 1200").To(45 * sec).Inject("host = \"vm\"\ndraw_w = 300").To(2 * min)
	if reached(r, "confirming") != 30*sec || reached(r, "watching: trigger gone") != 50*sec || reached(r, "stopping") != vtime.Never {
		t.Errorf("a spike of two polls:\n%s", r.Trace())
	}
	r.To(2*min + 5*sec).Inject("host = \"vm\"\ndraw_w = 1200").To(3 * min)
	if got := reached(r, "stopping"); got != 2*min+30*sec {
		t.Errorf("three polls: stopping at %v\n%s", got, r.Trace())
	}
}

// TestShutdownSequence: the order by needs, the output off when all have stopped,
// the restart when the gates are passed.
func TestShutdownSequence(t *testing.T) {
	src := managed + "on_battery_for = \"60s\"\noff_delay = \"30s\"\nmin_off = \"40s\"\n"
	r := playtest.Start(t, src).To(min - sec).Inject(lost).To(10 * min)
	for text, want := range map[string]vtime.Tick{
		"policy: stopping": 2 * min, "host vm: stopping": 2 * min, "host storage: stopping": 4 * min,
		"host storage: stopped": 5 * min, "policy: orders the output off": 5 * min, "policy: off-ordered": 5 * min,
		"output: off": 5*min + 30*sec, "policy: restarting": 5*min + 30*sec,
	} {
		if got := when(r, text); got != want {
			t.Errorf("%s: at %v, want %v", text, got, want)
		}
	}
	r.Inject(normal).To(20 * min)
	if got := when(r, "output: normal"); got != 10*min+10*sec { // the first poll after 5 s
		t.Errorf("on again at %v", got)
	}
	expectStates(t, r, "running running")
	if r.Site.Policy != snap.PolicyWatching {
		t.Errorf("in the end: %v", r.Site.Policy)
	}
	r.Inject(lost).To(30 * min) // incident 14: armed again
	if n := r.Count("policy: stopping"); n != 2 {
		t.Errorf("stopped %d times in two outages\n%s", n, r.Trace())
	}
}

// TestReturnOfTheMains: incidents 1 and 2. Before the first host was told
// everything is called off; after that the cycle is finished, or it is not.
func TestReturnOfTheMains(t *testing.T) {
	const told = 70*sec + 10*sec // the poll that saw it 60 s after the first
	for name, row := range map[string]struct {
		policy   string
		back     vtime.Tick
		vmStops  int
		vmStarts int
		output   int // times it went off
	}{
		"one second before the commit":  {`on_return = "finish"`, told - sec, 0, 0, 0},
		"one second after, finish":      {`on_return = "finish"`, told + sec, 1, 1, 1},
		"after, ignore":                 {`on_return = "ignore"`, told + sec, 1, 1, 1},
		"after, cancel":                 {`on_return = "cancel"`, told + sec, 1, 0, 0},
		"in the countdown, cancel":      {`on_return = "cancel"`, told + 200*sec, 1, 0, 0},
		"in the countdown, finish":      {`on_return = "finish"`, told + 200*sec, 1, 1, 1},
		"start armed with the order":    {"start_delay = \"5m\"", told + 200*sec, 1, 1, 1},
		"off right after the mains (l)": {"on_return = \"finish\"\nmin_off = \"24h\"", told + 239*sec, 1, 0, 1},
	} {
		t.Run(name, func(t *testing.T) {
			src := managed + "on_battery_for = \"60s\"\noff_delay = \"60s\"\n" + row.policy + "\n"
			r := playtest.Start(t, src).To(15 * sec).Inject(lost).To(row.back - 5*sec).Inject(normal).To(vtime.Hour)
			h := host(t, r, "vm")
			if h.Stops != row.vmStops || h.Starts != row.vmStarts || h.Cuts != 0 || r.Count("output: off") != row.output {
				t.Errorf("%d stops, %d starts, %d cuts, output off %d times\n%s", h.Stops, h.Starts, h.Cuts, r.Count("output: off"), r.Trace())
			}
		})
	}
}

// TestOffAtOnce: together with the orders to stop; hosts slower than the delay
// are cut (incident 3).
func TestOffAtOnce(t *testing.T) {
	src := managed + "on_battery_for = \"60s\"\noff_when = \"at-once\"\norder = \"all-at-once\"\noff_delay = \"90s\"\nstart_delay = \"10m\"\n"
	r := playtest.Start(t, src).Inject(lost).To(30 * sec)
	if r.Site.Control.ShutdownAt != vtime.Never {
		t.Fatal("ordered too early")
	}
	r.To(5 * min)
	if s, vm := host(t, r, "storage"), host(t, r, "vm"); s.Stops != 1 || vm.Cuts != 1 {
		t.Errorf("storage %+v\nvm %+v", s, vm)
	}
	if n := r.Count("policy: orders the output off"); n != 1 {
		t.Errorf("ordered off %d times\n%s", n, r.Trace())
	}
	if got, want := r.Site.Control.StartupAt, 70*sec+10*min; got != want {
		t.Errorf("startup at %v, want %v: armed once, with the order", got, want)
	}
}

// TestDeadline: it goes on without a host that hangs (incident 4).
func TestDeadline(t *testing.T) {
	src := strings.Replace(managed, `needs = ["storage"]`, "needs = [\"storage\"]\nhangs = true", 1) +
		"on_battery_for = \"60s\"\nhost_deadline = \"3m\"\noff_delay = \"0s\"\n"
	r := playtest.Start(t, src).Inject(lost).To(10 * min)
	if vm, s := host(t, r, "vm"), host(t, r, "storage"); vm.Cuts != 1 || s.Stops != 1 || s.Ended != "clean" {
		t.Errorf("vm %+v\nstorage %+v", vm, s)
	}
	if told, off := when(r, "host storage: stopping"), when(r, "output: off"); told != 70*sec+3*min || off != 70*sec+4*min {
		t.Errorf("storage told at %v, off at %v", told, off)
	}
}

// TestSelfTest: incidents 19 and 20.
func TestSelfTest(t *testing.T) {
	calibrate := `test = "deep-calibration"`
	for name, row := range map[string]struct {
		policy string
		loss   bool
		stops  bool
	}{
		"ignored":                      {``, false, false},
		"counted":                      {`believe = {tests = "count"}`, false, true},
		"a real loss in it is no test": {``, true, true},
	} {
		r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n"+row.policy).To(min).Inject(calibrate).To(2*min - 5*sec)
		if row.loss {
			r.Inject(lost)
		}
		if r.To(5 * min); (reached(r, "stopping") != vtime.Never) != row.stops {
			t.Errorf("%s: stopping at %v", name, reached(r, "stopping"))
		}
	}
}

// TestMinutesAsSeconds: incident 26.
func TestMinutesAsSeconds(t *testing.T) {
	for policy, want := range map[string]vtime.Tick{"": vtime.Never, `believe = {runtime_unit = "seconds"}`: 70 * sec} {
		r := playtest.Start(t, managed+"runtime_below = \"5m\"\n"+policy).To(65 * sec).Inject(lost).To(2 * min)
		if got := reached(r, "stopping"); got != want {
			t.Errorf("%q: stopping at %v, want %v", policy, got, want)
		}
	}
}

// TestLowBatteryOnMains: incident 10; RFC 1628 upsBatteryStatus is low on mains
// too.
func TestLowBatteryOnMains(t *testing.T) {
	for policy, want := range map[string]vtime.Tick{"": vtime.Never, `believe = {mains = "ignore"}`: 70 * sec} {
		r := playtest.Start(t, managed+"on_low_battery = true\n"+policy).To(65 * sec).Inject("charge_pct = 10").To(2 * min)
		if got := reached(r, "stopping"); got != want {
			t.Errorf("%q: stopping at %v, want %v", policy, got, want)
		}
	}
}

// TestCardRestartsInTheOutage: incident 11. The card is silent for 75 s and its
// counter starts again; an own clock does not care, and silence while on battery
// is more of it.
func TestCardRestartsInTheOutage(t *testing.T) {
	for policy, want := range map[string]vtime.Tick{
		``:                                       190 * sec,
		`believe = {timer = "card"}`:             125*sec + 75*sec + 180*sec,
		`believe = {silence = "mains"}`:          200*sec + 180*sec,
		`believe = {silence = "worst"}`:          190 * sec,
		"confirm = 2":                            200 * sec,
		"confirm = 2\nbelieve = {timer=\"own\"}": 200 * sec,
	} {
		r := playtest.Start(t, managed+"on_battery_for = \"3m\"\n"+policy).To(5 * sec).Inject(lost).To(125 * sec).Ask(snap.OpRestart).To(20 * min)
		if got := reached(r, "stopping"); got != want {
			t.Errorf("%q: stopping at %v, want %v", policy, got, want)
		}
	}
}

// TestSilentCardGetsTheOrderLater: an order that nobody took is put again, with
// the next poll that is answered.
func TestSilentCardGetsTheOrderLater(t *testing.T) {
	src := managed + "on_battery_for = \"60s\"\noff_delay = \"30s\"\n"
	r := playtest.Start(t, src).To(5 * sec).Inject(lost).To(4*min + 5*sec).Ask(snap.OpRestart).To(10 * min)
	if got := reached(r, "orders the output off"); got != 5*min+20*sec { // all stopped at 4:10, the card is back at 5:20
		t.Errorf("ordered at %v\n%s", got, r.Trace())
	}
}

// TestLostCountdown: incident 12. A card that restarts loses the countdown; who
// reads it back orders again, who trusts it leaves stopped hosts on live outlets.
func TestLostCountdown(t *testing.T) {
	base := managed + "on_battery_for = \"60s\"\noff_delay = \"5m\"\n"
	base = strings.Replace(base, "address =", "restart_aborts = true\naddress =", 1)
	for policy, off := range map[string]bool{"": true, `believe = {countdown = "trust"}`: false} {
		r := playtest.Start(t, base+policy).To(5 * sec).Inject(lost).To(5 * min).Ask(snap.OpRestart).To(6 * min).Inject(normal).To(vtime.Hour)
		if got := r.Count("output: off") == 1; got != off {
			t.Errorf("%q: off %v\n%s", policy, got, r.Trace())
		}
		want := snap.Either(off, "running running", "stopped stopped")
		expectStates(t, r, want)
	}
}

// TestUnseenCycle: with the whole system off the card is dead too; the policy
// sees nothing but silence and then an output that is on, and is armed again.
func TestUnseenCycle(t *testing.T) {
	src := strings.Replace(managed, "auto_restart = false", "auto_restart = true\nshutdown_type = \"system\"", 1) +
		"on_battery_for = \"60s\"\noff_delay = \"30s\"\n"
	r := playtest.Start(t, src).To(5 * sec).Inject(lost).To(10 * min).Inject(normal).To(20 * min)
	expectStates(t, r, "running running")
	if r.Site.Policy != snap.PolicyWatching || r.Count("output: off") != 1 {
		t.Fatalf("%v\n%s", r.Site.Policy, r.Trace())
	}
	r.Inject(lost).To(30 * min)
	if n := r.Count("policy: stopping"); n != 2 {
		t.Errorf("stopped %d times in two outages", n)
	}
}

// TestGates: incident 9. No restart before the output was off long enough and
// the battery has enough for another shutdown.
func TestGates(t *testing.T) {
	src := managed + "on_battery_for = \"60s\"\noff_delay = \"0s\"\nmin_off = \"10m\"\n"
	r := playtest.Start(t, src).To(5 * sec).Inject(lost).To(5 * min).Inject(normal).To(vtime.Hour)
	if off, on := when(r, "output: off"), when(r, "output: normal"); on < off+10*min || on > off+10*min+10*sec {
		t.Errorf("off at %v, on at %v", off, on)
	}
	r = playtest.Start(t, src+"min_charge_pct = 50\n").Inject("charge_pct = 30").Inject(lost).To(5 * min).Inject(normal)
	for !r.Site.UPS.OutputOn && r.Engine.Now() < 12*vtime.Hour {
		r.Step()
	}
	if got := r.Site.Battery.ChargePct; got < 50 || got > 50.5 {
		t.Errorf("on again at %.2f %%", got)
	}
}

// TestSomebodyElsesOff: what a person switched off on mains is not the policy's
// to start: somebody may be working behind it.
func TestSomebodyElsesOff(t *testing.T) {
	r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n").To(min).Inject(`output = "off"`).To(vtime.Hour)
	if r.Site.UPS.OutputOn {
		t.Error("the policy switched it on")
	}
}

// TestDepletionBeforeTheDeadline: incident 18. The battery gives out while the
// hosts stop; the policy starts the site again when the mains are back.
func TestDepletionBeforeTheDeadline(t *testing.T) {
	r := playtest.Start(t, managed+"on_battery_for = \"2m\"\n").Inject("charge_pct = 18").Inject(lost).To(20 * min)
	expectStates(t, r, "cut cut")
	r.Inject(normal).To(40 * min)
	expectStates(t, r, "running running")
}
