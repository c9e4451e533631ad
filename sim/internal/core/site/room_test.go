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

// closed is a room with 4 kW in it past a small unit without load. It leaks
// nothing.
const closed = head + `
[ups]
mains_loss = { no_load = 0, linear = 0, quadratic = 0 }
battery_loss = { no_load = 0, linear = 0, quadratic = 0 }
heat = { heat_j_per_k = 100, cool_w_per_k = 0.01 }
[battery]
series = 1
capacity_ah = 0.5
[[group]]
name = "ups"
[[group]]
name = "past"
fed_by = "mains"
[[host]]
name = "load"
group = "past"
draw_w = 4000
[room]
temp_c = 24
volume_m3 = 40
equipment_kg = 500
leak_w_per_k = 0
`

// TestRoomHeatsUp: check THM-04, 8.047 K in 10 min by the heat of air and
// equipment (no losses, no cooling). The one block of the battery, which it warms
// up too, takes a little.
func TestRoomHeatsUp(t *testing.T) {
	r := playtest.Start(t, closed).To(10 * min)
	if got := r.Site.Room.TempC - 24; math.Abs(got-8.047) > 0.01 {
		t.Errorf("%.4f K in 10 min, want 8.047", got)
	}
	if r.Site.Room.HeatW < 3995 || r.Site.Room.HeatW > 4005 {
		t.Errorf("%v W", r.Site.Room.HeatW)
	}
}

// TestRoomDoesNotMindTheGrid: extra stops change the temperature by less than a
// hundredth of a kelvin, with a unit that feels it.
func TestRoomDoesNotMindTheGrid(t *testing.T) {
	src := head + one + "[room]\ntemp_c = 24\n[[at]]\ntime = \"5m\"\nsource = \"lost\"\n[[at]]\ntime = \"15m\"\nsource = \"normal\"\n"
	whole, stopped := playtest.Start(t, src).To(2*vtime.Hour), playtest.Start(t, src)
	for at := vtime.Tick(0); at < 2*vtime.Hour; at += 1777 {
		stopped.To(at)
	}
	stopped.To(2 * vtime.Hour)
	a, b := whole.Site, stopped.Site
	if math.Abs(a.Room.TempC-b.Room.TempC) > 0.01 || math.Abs(a.Battery.TempC-b.Battery.TempC) > 0.01 {
		t.Errorf("room %v and %v C, battery %v and %v C", a.Room.TempC, b.Room.TempC, a.Battery.TempC, b.Battery.TempC)
	}
	if a.Room.TempC < 25 {
		t.Errorf("nothing warmed up: %+v", a.Room)
	}
}

// TestRoomTakesWhatIsLost: in a room without leak or cooling all energy that went
// in is found as warmth: of the room, and of unit and battery in it.
func TestRoomTakesWhatIsLost(t *testing.T) {
	src := head + one + "[room]\nleak_w_per_k = 0\n[[at]]\ntime = \"5m\"\nsource = \"lost\"\n[[at]]\ntime = \"15m\"\nsource = \"normal\"\n"
	r := playtest.Start(t, src)
	start := r.Site.Room.TempC
	r.To(6 * vtime.Hour)
	p := r.Site.Power
	const heatJPerK = 40*1.2*1005 + 500*500
	unitAndBattery := 10_530.0 + 6*1980 // the defaults for 2.7 kW and six blocks
	rise := r.Site.Room.TempC - start
	want := (p.OutputWh + p.LossWh) * 3600
	// Unit and battery are warmer than the room by what they give off.
	if got := rise * (heatJPerK + unitAndBattery); math.Abs(got-want) > 0.02*want {
		t.Errorf("%.0f J are found of %.0f", got, want)
	}
}

// TestCoolingHolds: it takes away what comes in, until it fails.
func TestCoolingHolds(t *testing.T) {
	src := closed + "cooling_w = 5000\nsetpoint_c = 24\n"
	r := playtest.Start(t, src).To(10 * min)
	if s := r.Site.Room; s.TempC != 24 || math.Abs(s.CoolingW-s.HeatW) > 1e-6 || s.HeatW < 3999 {
		t.Fatalf("%+v", s)
	}
	if r.Inject(`cooling = "failed"`).To(20 * min); math.Abs(r.Site.Room.TempC-32.047) > 0.02 || r.Site.Room.CoolingW != 0 {
		t.Errorf("10 min after the failure: %+v", r.Site.Room)
	}
	if r.Inject(`cooling = "working"`); r.Site.Room.CoolingW != 5000 {
		t.Errorf("mended: %+v", r.Site.Room)
	}
	if r.To(2 * vtime.Hour); r.Site.Room.TempC != 24 {
		t.Errorf("in the end: %+v", r.Site.Room)
	}
}

// TestCoolingStopsWithItsSupply: and takes its time to come back; one with a
// supply of its own goes on.
func TestCoolingStopsWithItsSupply(t *testing.T) {
	src := head + one + "[room]\ntemp_c = 24\ncooling_w = 3000\ncooling_restarts = \"3m\"\n"
	play := func(src string) *playtest.Run {
		return playtest.Start(t, src).To(10 * min).Inject(`source = {sag_pct = 0, lasts = "2m"}`).To(11 * min)
	}
	r := play(src)
	if r.Site.Room.CoolingW != 0 || r.Site.Room.TempC <= 24 {
		t.Fatalf("without supply: %+v", r.Site.Room)
	}
	r.To(20 * min)
	if got := once(t, r, "cooling: starts again"); got != 15*min {
		t.Errorf("starts again at %v", got)
	}
	other := play(src + "cooling_from = \"other\"\n")
	if other.Site.Room.TempC != 24 || other.Count("cooling") != 0 {
		t.Errorf("with its own supply: %+v", other.Site.Room)
	}
}

// TestProbeSeesTheRoom: late by its time constant, in tenths, with an error.
func TestProbeSeesTheRoom(t *testing.T) {
	src := closed + "[[probe]]\nname = \"inlet\"\nlag = \"60s\"\nnoise_k = 0\nhumidity = true\noffset_k = 2\n[[probe]]\nname = \"noisy\"\nlag = \"0s\"\nnoise_k = 0.5\n"
	r := playtest.Start(t, src).To(20 * min)
	p := r.Site.Probes.List
	// A ramp of a K/s is followed at a distance of a times the time constant.
	rate := (r.Site.Room.TempC - 24) / (20 * min).Seconds()
	if got, want := p[0].TempC, r.Site.Room.TempC+2-60*rate; math.Abs(got-want) > 0.16 {
		t.Errorf("shows %v C, want %.2f", got, want)
	}
	if got := p[0].TempC * 10; got != math.Round(got) {
		t.Errorf("not in tenths: %v", p[0].TempC)
	}
	if p[0].HumidityPct != math.Round(r.Site.Room.HumidityPct) || p[0].HumidityPct >= 45 || p[1].HasHumidity {
		t.Errorf("%+v with %v %%", p, r.Site.Room.HumidityPct)
	}
	different := map[float64]bool{}
	for range 60 {
		r.To(r.Engine.Now() + 10*sec)
		d := r.Site.Probes.List[1].TempC - r.Site.Room.TempC
		if math.Abs(d) > 0.56 {
			t.Fatalf("an error of %v K", d)
		}
		different[math.Round(d*10)] = true
	}
	if len(different) < 5 {
		t.Errorf("%d different errors", len(different))
	}
}

// watched is a probe with limits, in a room that the test heats as it likes.
const watched = head + one + `
[room]
temp_c = 20
outside_c = 20
volume_m3 = 40
equipment_kg = 0
leak_w_per_k = 30
[[probe]]
name = "inlet"
lag = "0s"
noise_k = 0
low_critical_c = 5
low_warn_c = 10
high_warn_c = 30
high_critical_c = 40
hysteresis_k = 2
delay = "30s"
`

// TestProbeLimits: worse after the delay, better at once and only by the
// hysteresis; one alert per excursion (row 52 of the field notes).
func TestProbeLimits(t *testing.T) {
	r := playtest.Start(t, strings.Replace(watched, "draw_w = 400", "draw_w = 800", 1)).To(vtime.Hour)
	first := once(t, r, "probe inlet: critical")
	warned := once(t, r, "probe inlet: warn")
	if warned >= first || r.Site.Probes.List[0].State != snap.ProbeCritical {
		t.Fatalf("warn at %v, critical at %v", warned, first)
	}
	// Not before it has been above for the delay.
	again := playtest.Start(t, strings.Replace(watched, "draw_w = 400", "draw_w = 800", 1))
	for again.Site.Probes.List[0].TempC <= 30 {
		again.Step()
	}
	if d := warned - again.Engine.Now(); d < 30*sec || d > 40*sec {
		t.Errorf("it warns %v after the limit", d)
	}
	// Cooling down: critical until 38, warn until 28.
	r.Inject("host = \"db\"\ndraw_w = 100")
	for r.Site.Probes.List[0].State == snap.ProbeCritical {
		r.Step()
	}
	if got := r.Site.Probes.List[0].TempC; got > 38 || got < 37 {
		t.Errorf("no longer critical at %v C", got)
	}
	for r.Site.Probes.List[0].State == snap.ProbeWarn {
		r.Step()
	}
	if got := r.Site.Probes.List[0].TempC; got > 28 || got < 27 {
		t.Errorf("no longer a warning at %v C", got)
	}
	if r.Count("probe inlet: warn") != 2 || r.Count("probe inlet: critical") != 1 {
		t.Error(r.Trace())
	}
}

// TestProbeInTheCold: the lower limits.
func TestProbeInTheCold(t *testing.T) {
	r := playtest.Start(t, strings.Replace(strings.Replace(watched, "outside_c = 20", "outside_c = -30", 1), "draw_w = 400", "draw_w = 0", 1)).To(vtime.Hour)
	if diff := cmp.Diff([]int{1, 1}, []int{r.Count("probe inlet: warn"), r.Count("probe inlet: critical")}); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestUnpluggedProbeIsLost: not cold: its reading stays, its state says so.
func TestUnpluggedProbeIsLost(t *testing.T) {
	r := playtest.Start(t, watched).To(5 * min)
	before := r.Site.Probes.List[0].TempC
	r.Inject(`probe = {unplug = "inlet"}`)
	if p := r.Site.Probes.List[0]; p.State != snap.ProbeLost || p.TempC != before {
		t.Fatalf("%+v, was %v C", p, before)
	}
	r.To(20 * min)
	if p := r.Site.Probes.List[0]; p.State != snap.ProbeLost || p.TempC != before || r.Count("probe inlet") != 2 {
		t.Fatalf("%+v, was %v C", p, before)
	}
	r.Inject(`probe = {plug = "inlet"}`).To(20*min + 10*sec)
	if p := r.Site.Probes.List[0]; p.State != snap.ProbeWarn && p.State != snap.ProbeNormal || math.Abs(p.TempC-r.Site.Room.TempC) > 0.1 {
		t.Errorf("plugged in: %+v in %v C", p, r.Site.Room.TempC)
	}
}

// TestFanAndHeat: a unit without its fans gets warmer, and says so.
func TestFanAndHeat(t *testing.T) {
	src := head + strings.Replace(one, "draw_w = 400", "draw_w = 2400", 1) + "[battery]\nblock = \"agm-12v-100ah\"\n"
	r := playtest.Start(t, src).To(vtime.Hour).Inject(`fan = "failed"`)
	if !r.Site.Alarms.Has(snap.AlarmFanFailure) {
		t.Error("no alarm for the fan")
	}
	r.Inject(`fan = "working"`)
	if r.Site.Alarms.Has(snap.AlarmFanFailure) {
		t.Error("the alarm stays")
	}
}
