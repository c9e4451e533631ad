package site_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// standby is a site with a generator that does not wander.
const standby = head + one + `
[ups]
qualify = "5s"
[source]
generator = { rating_w = 4000, start_after = "3s", start_takes = "9s", settles = "0s", droop_hz = 1, step_hz = 2, step_v = 20, recovers = "2s", cools_down = "3m" }
changeover = { gap = "400ms", accept = "5s", watch = "4m" }
`

// TestGeneratorTakesOver: every step at its time, there and back. The gap of the
// switch is seen both ways.
func TestGeneratorTakesOver(t *testing.T) {
	r := playtest.Start(t, standby).To(min).Inject(lost).To(30 * min).Inject(normal).To(50 * min)
	for text, want := range map[string][]vtime.Tick{
		"generator: starting":   {min + 3*sec},
		"generator: running":    {min + 12*sec},
		"changeover: open":      {min + 17*sec, 34 * min},
		"changeover: generator": {min + 17*sec + 400},
		"changeover: utility":   {34*min + 400},
		"generator: cooling":    {34*min + 400},
		"generator: stopped":    {37*min + 400},
		"output: battery":       {min, 34 * min},
		"output: normal":        {min + 22*sec + 400, 34*min + 5*sec + 400},
	} {
		if diff := cmp.Diff(want, times(t, r, text)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", text, diff)
		}
	}
	if r.Site.Transfers != 2 || host(t, r, "db").Cuts != 0 || r.Site.Supply.Switch != snap.OnUtility {
		t.Errorf("%d transfers, %+v", r.Site.Transfers, r.Site.Supply)
	}
}

// TestShortOutageStartsNothing: the generator is not started for a dip, and goes
// to rest when the utility is back before it runs.
func TestShortOutageStartsNothing(t *testing.T) {
	r := playtest.Start(t, standby).To(min).Inject(`source = {sag_pct = 0, lasts = "2s"}`).To(5 * min)
	if r.Count("generator") != 0 {
		t.Error(r.Trace())
	}
	r.Inject(`source = {sag_pct = 0, lasts = "7s"}`).To(6 * min)
	if r.Count("generator: running") != 1 || r.Count("generator: cooling") != 1 || r.Count("changeover") != 0 {
		t.Error(r.Trace())
	}
	// Another loss while it runs on: it takes over as soon as it has been accepted.
	r.Inject(lost).To(7 * min)
	if got := once(t, r, "changeover: open"); got != 6*min+5*sec {
		t.Errorf("it takes over at %v", got)
	}
}

// TestLostAgainWhileWatched: the watch begins anew.
func TestLostAgainWhileWatched(t *testing.T) {
	r := playtest.Start(t, standby).To(min).Inject(lost).To(10 * min).Inject(normal).To(13 * min).Inject(lost).To(14 * min).Inject(normal).To(30 * min)
	if got := times(t, r, "changeover: open"); len(got) != 2 || got[1] != 18*min {
		t.Errorf("opens at %v", got)
	}
}

// TestDroop: steady, the frequency is lower by the share of the rating; a load
// step makes it fall further, which passes with its time constant.
func TestDroop(t *testing.T) {
	r := playtest.Start(t, standby).To(min).Inject(lost).To(10 * min)
	share := r.Site.Power.MainsW / 4000
	if got, want := r.Site.Feed.Hz, 50-share; math.Abs(got-want) > 1e-3 {
		t.Errorf("%v Hz at %.3f of the rating, want %v", got, share, want)
	}
	before := r.Site.Feed
	step := 800.0 / 4000
	r.Inject("host = \"db\"\ndraw_w = 1200").To(10*min + 1)
	if got := before.Volts - r.Site.Feed.Volts; got > 0.2 {
		t.Errorf("the step costs %v V at once: the machine has its mass", got)
	}
	// The deepest point is ln(5)/4 of the time constant later.
	deepest := before.Volts
	for r.Engine.Now() < 10*min+3*sec {
		r.To(r.Engine.Now() + 10)
		deepest = math.Min(deepest, r.Site.Feed.Volts)
	}
	if got, want := before.Volts-deepest, 20*step; math.Abs(got-want) > 0.03*want {
		t.Errorf("the step costs %v V, want %v", got, want)
	}
	r.To(11 * min)
	if got, want := r.Site.Feed.Hz, 50-r.Site.Power.MainsW/4000; math.Abs(got-want) > 1e-3 || math.Abs(r.Site.Feed.Volts-230) > 0.01 {
		t.Errorf("settles at %+v, want %v Hz", r.Site.Feed, want)
	}
}

// TestWandering: the unit leaves and takes a generator that wanders out of its
// window (incident of a unit that refuses its generator), to the tick at which a
// triangle crosses it, whoever else stops the run.
func TestWandering(t *testing.T) {
	src := strings.Replace(standby, `settles = "0s"`, `settles = "40s", wander_hz = 3, wander_v = 0, wander_period = "10s"`, 1)
	src = strings.Replace(src, `qualify = "5s"`, "qualify = \"1s\"\nlow_hz = 49\nhigh_hz = 51", 1)
	src = strings.Replace(src, `accept = "5s"`, `accept = "0s"`, 1)
	src = strings.Replace(src, "droop_hz = 1, step_hz = 2, step_v = 20", "droop_hz = 0, step_hz = 0, step_v = 0", 1)
	r := playtest.Start(t, src).To(min).Inject(lost).To(5 * min)
	bad := times(t, r, "input: bad")
	if len(bad) < 5 {
		t.Fatalf("left %d times:\n%s", len(bad), r.Trace())
	}
	start := once(t, r, "generator: running")
	for _, at := range bad[1:] {
		if now, before := wander(at-start), wander(at-start-1); math.Abs(now) <= 1 || math.Abs(before) > 1 {
			t.Errorf("left at %v: %v Hz away, %v the tick before", at, now, before)
		}
	}
	stopped := playtest.Start(t, src).To(min).Inject(lost)
	for at := min; at < 5*min; at += 333 {
		stopped.To(at)
	}
	if diff := cmp.Diff(bad, times(t, stopped.To(5*min), "input: bad")); diff != "" {
		t.Errorf("(-whole +stopped):\n%s", diff)
	}
	if r.Site.UPS.Source != snap.SourceNormal {
		t.Errorf("in the end fed by %v", r.Site.UPS.Source)
	}
}

// wander is by how much 3 Hz of a 10 s triangle that dies out in 40 s are away.
func wander(since vtime.Tick) float64 {
	s := since.Seconds()
	phase := math.Mod(s, 10) / 10
	return 3 * (1 - s/40) * -2 / math.Pi * math.Asin(math.Sin(2*math.Pi*phase))
}

// TestGeneratorFails: at its start, and with the load on it.
func TestGeneratorFails(t *testing.T) {
	r := playtest.Start(t, standby).Inject(`generator = "failed"`).To(min).Inject(lost).To(2 * min)
	if r.Site.Supply.Generator != snap.GeneratorFailed || r.Site.UPS.Source != snap.SourceBattery {
		t.Fatalf("%+v, fed by %v", r.Site.Supply, r.Site.UPS.Source)
	}
	r.Inject(`generator = "working"`).To(3 * min)
	if r.Site.Supply.Switch != snap.OnGenerator || r.Site.UPS.Source != snap.SourceNormal {
		t.Fatalf("mended: %+v, fed by %v", r.Site.Supply, r.Site.UPS.Source)
	}
	r.Inject(`generator = "failed"`)
	if r.Site.UPS.Source != snap.SourceBattery || r.Site.Supply.Switch != snap.OnGenerator || r.Site.Feed.Volts != 0 {
		t.Fatalf("out of fuel: %+v, %v V, fed by %v", r.Site.Supply, r.Site.Feed.Volts, r.Site.UPS.Source)
	}
	r.To(4 * min).Inject(normal).To(5 * min) // nothing to watch for: what it is on is dead
	if got := times(t, r, "changeover: utility"); len(got) != 1 || got[0] != 4*min+400 {
		t.Errorf("back on the utility at %v", got)
	}
}

// TestNoGenerator: its failure is noted, and nothing else happens.
func TestNoGenerator(t *testing.T) {
	r := playtest.Start(t, head+one).Inject(`generator = "failed"`).To(min).Inject(lost).To(2 * min)
	if r.Count("there is no generator") != 1 || r.Site.Supply.Generator != snap.GeneratorNone {
		t.Error(r.Trace())
	}
}

// TestSiteOnGeneratorBalances: droop and steps of the supply take no energy.
func TestSiteOnGeneratorBalances(t *testing.T) {
	r := playtest.Start(t, standby).To(min).Inject(lost).To(2 * vtime.Hour)
	p := r.Site.Power
	in, out := p.MainsWh+p.BatteryWh, p.OutputWh+p.LossWh
	if math.Abs(in-out) > 0.001*out || p.MainsWh < 100 {
		t.Errorf("%.3f Wh in, %.3f Wh out: %+v", in, out, p)
	}
}

// TestSwitchHysteresis: what left the window of the changeover switch, 85 % of
// nominal, is watched only when it is 2 points further in.
func TestSwitchHysteresis(t *testing.T) {
	r := playtest.Start(t, standby).To(min).Inject(`source = {sag_pct = 84}`).To(10 * min).Inject(`source = {sag_pct = 86.9}`).To(20 * min)
	if r.Site.Supply.Switch != snap.OnGenerator {
		t.Errorf("at 86.9 %%: on the %v", r.Site.Supply.Switch)
	}
	r.Inject(`source = {sag_pct = 87}`).To(25 * min)
	if got := once(t, r, "changeover: utility"); got != 24*min+400 {
		t.Errorf("at 87 %%: back at %v", got)
	}
}
