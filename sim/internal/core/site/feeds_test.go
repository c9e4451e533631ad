package site_test

import (
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// feeds are two: a machine on each, and one on both.
const feeds = head + `
[[group]]
name = "a"
[[group]]
name = "b"
fed_by = "mains"
[[host]]
name = "both"
groups = ["a", "b"]
draw_w = 600
hold_up = "20ms"
[[host]]
name = "ups"
group = "a"
draw_w = 100
[[host]]
name = "mains"
group = "b"
draw_w = 200
hold_up = "20ms"
`

// TestLoadIsShared: between the feeds that are live.
func TestLoadIsShared(t *testing.T) {
	r := playtest.Start(t, feeds).To(min)
	load := func(want float64) {
		t.Helper()
		if got := r.Site.Power.OutputW; math.Abs(got-want) > 1e-9 {
			t.Errorf("at %v: %v W, want %v", r.Engine.Now(), got, want)
		}
	}
	load(400)
	r.Inject(lost)
	load(700)
	r.To(2 * min).Inject(normal)
	load(400)
	r.To(3 * min).Inject(`output = "off"`)
	load(0)
	if h := host(t, r, "both"); h.State != snap.HostRunning || h.DrawW != 600 || host(t, r, "ups").State != snap.HostCut {
		t.Errorf("%+v", h)
	}
}

// TestCutOnlyWithoutAnyFeed: whichever goes first.
func TestCutOnlyWithoutAnyFeed(t *testing.T) {
	r := playtest.Start(t, feeds).To(min).Inject(`output = "off"`).To(2 * min)
	expectStates(t, r, "running cut running")
	r.Inject(lost).To(3 * min)
	expectStates(t, r, "cut cut cut")
	if got := times(t, r, "host both: cut"); len(got) != 1 || got[0] != 2*min+21 {
		t.Errorf("cut at %v, want after its hold-up time", got)
	}
	r.Inject(normal)
	expectStates(t, r, "booting cut booting")

	r = playtest.Start(t, feeds).To(min).Inject(lost).To(2 * min)
	expectStates(t, r, "running running cut")
	r.Inject(`output = "off"`)
	expectStates(t, r, "cut cut cut")
}

// TestHoldUpOnMains: a host straight on the mains bears a gap as long as it holds
// up, and a sag that common supplies bear for any time.
func TestHoldUpOnMains(t *testing.T) {
	for _, c := range []struct {
		source string
		want   snap.HostState
	}{
		{`{sag_pct = 0, lasts = "20ms"}`, snap.HostRunning},
		{`{sag_pct = 0, lasts = "21ms"}`, snap.HostBooting},
		{`{sag_pct = 69, lasts = "1s"}`, snap.HostBooting},
		{`{sag_pct = 70, lasts = "30s"}`, snap.HostRunning},
	} {
		r := playtest.Start(t, feeds).To(min).Inject("source = " + c.source).To(2 * min)
		if h := host(t, r, "mains"); h.State != c.want {
			t.Errorf("%s: %v", c.source, h.State)
		}
		if h := host(t, r, "both"); h.State != snap.HostRunning || h.Cuts != 0 {
			t.Errorf("%s: on two feeds %+v", c.source, h)
		}
	}
}

// TestGapMattersOnlyAlone: the gap of a transfer is nothing to a host whose other
// feed is live.
func TestGapMattersOnlyAlone(t *testing.T) {
	src := feeds + "[ups]\ntransfer = \"50ms\"\n"
	r := playtest.Start(t, src).To(min).Inject(`input = "open"`)
	if host(t, r, "both").Cuts != 0 || host(t, r, "ups").Cuts != 1 || host(t, r, "mains").Cuts != 0 {
		t.Errorf("%+v", r.Site.Hosts)
	}
	if r.Count("momentary interruption of 50 ms, not borne") != 1 {
		t.Error(r.Trace())
	}
	r = playtest.Start(t, src).To(min).Inject(lost).To(2 * min)
	if host(t, r, "both").Cuts != 1 {
		t.Errorf("its other feed is dead: %+v", r.Site.Hosts)
	}
}

// TestGroupPastTheUnit: nobody switches it.
func TestGroupPastTheUnit(t *testing.T) {
	r := playtest.Start(t, feeds).To(min).Write(snap.VarShutdownAfter, 10).To(2 * min)
	if r.Site.Groups[0].On || !r.Site.Groups[1].On {
		t.Errorf("%+v", r.Site.Groups)
	}
}

// TestManagerSparesTheDualFed: it stops what hangs on the unit alone (incident of
// two feeds, one dead), and the others too when the mains go as well.
func TestManagerSparesTheDualFed(t *testing.T) {
	src := feeds + "[policy]\non_battery_for = \"1m\"\n"
	r := playtest.Start(t, src).To(min).Inject(`input = "open"`).To(10 * min)
	expectStates(t, r, "running off running")
	r = playtest.Start(t, src+"dual_fed = \"stop\"\n").To(min).Inject(`input = "open"`).To(10 * min)
	if host(t, r, "both").Ended != "clean" {
		t.Errorf("%+v", r.Site.Hosts)
	}
	r = playtest.Start(t, src).To(min).Inject(lost).To(10 * min)
	if host(t, r, "both").Ended != "clean" {
		t.Errorf("%+v", r.Site.Hosts)
	}
}

// rush is two groups of one host each, which take three times their current for
// 100 ms: 1000 W at a power factor of 1 beside 500 W.
const rush = head + `
[ups]
rating_va = 10000
rating_w = 10000
[[group]]
name = "a"
inrush = { times = 3, lasts = "100ms" }
[[group]]
name = "b"
on_delay = "DELAY"
inrush = { times = 3, lasts = "100ms" }
[[host]]
name = "one"
group = "a"
draw_w = 1000
power_factor = 1
[[host]]
name = "two"
group = "b"
draw_w = 500
power_factor = 1
`

// TestInrush: volt-amperes on top of the load, for its time, each group by itself.
func TestInrush(t *testing.T) {
	for delay, want := range map[string][]float64{
		//            at once, 99 ms, 100 ms, at b, 100 ms later
		"0s": {4500, 4500, 1500, 1500, 1500},
		"5s": {3000, 3000, 1000, 2500, 1500},
	} {
		r := playtest.Start(t, strings.ReplaceAll(rush, "DELAY", delay)).To(min)
		if r.Site.Power.OutputVA != 1500 {
			t.Fatalf("inrush at the start: %v VA", r.Site.Power.OutputVA)
		}
		r.Inject(`output = "off"`).To(2 * min).Inject(`output = "on"`)
		for i, at := range []vtime.Tick{0, 99, 100, 5 * sec, 5*sec + 100} {
			r.To(2*min + at)
			if got := r.Site.Power; math.Abs(got.OutputVA-want[i]) > 1e-9 || got.OutputW > 1500 {
				t.Errorf("delay %s, %v later: %v VA, %v W, want %v VA", delay, at, got.OutputVA, got.OutputW, want[i])
			}
		}
	}
}

// TestInrushEndsWithTheGroup: it does not linger on dead outlets.
func TestInrushEndsWithTheGroup(t *testing.T) {
	r := playtest.Start(t, strings.ReplaceAll(strings.ReplaceAll(rush, "DELAY", "0s"), "100ms", "50s")).To(min).Inject(`output = "off"`).To(2 * min).Inject(`output = "on"`)
	r.To(2*min + 10*sec).Inject(`output = "off"`).To(3 * min).Inject(`output = "on"`).To(3*min + 49*sec)
	if got := r.Site.Power.OutputVA; got != 4500 {
		t.Errorf("%v VA", got)
	}
	if r.To(3*min + 50*sec); r.Site.Power.OutputVA != 1500 {
		t.Errorf("%v VA", r.Site.Power.OutputVA)
	}
}

// TestBackOnMains: a host past the unit that gave up wants 80 % of nominal before it
// starts again (ITI curve: 80 % is borne for 10 s).
func TestBackOnMains(t *testing.T) {
	r := playtest.Start(t, feeds).To(min).Inject(`source = {sag_pct = 60}`).To(2 * min).Inject(`source = {sag_pct = 79.9}`).To(3 * min)
	if h := host(t, r, "mains"); h.State != snap.HostCut || h.Powered {
		t.Errorf("at 79.9 %%: %+v", h)
	}
	if r.Inject(`source = {sag_pct = 80}`); host(t, r, "mains").State != snap.HostBooting {
		t.Errorf("at 80 %%: %+v", host(t, r, "mains"))
	}
}
