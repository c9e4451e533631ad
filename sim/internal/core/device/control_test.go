package device_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// play is one thing done at a time.
type play struct {
	at vtime.Tick
	do func(*playtest.Run)
}

func write(at vtime.Tick, v snap.Var, value int64) play {
	return play{at, func(r *playtest.Run) { r.Write(v, value) }}
}

func inject(at vtime.Tick, toml string) play {
	return play{at, func(r *playtest.Run) { r.Inject(toml) }}
}

// state is the output at a time.
type state struct {
	at     vtime.Tick
	output bool
}

// TestCountdowns: RFC 1628 upsShutdownAfterDelay, upsStartupAfterDelay,
// upsRebootWithDuration, upsShutdownType and upsAutoRestart, sentence by
// sentence. The mains count as back 5 s after they are.
func TestCountdowns(t *testing.T) {
	const (
		off, on, reboot = snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot
		lost, back      = `source = "lost"`, `source = "normal"`
	)
	for name, row := range map[string]struct {
		plays []play
		want  []state
	}{
		"shutdown after a delay": {
			[]play{write(0, off, 60)}, []state{{min - ms, true}, {min, false}, {min * 10, false}},
		},
		"shutdown 0 is now":          {[]play{write(0, off, 0)}, []state{{0, false}}},
		"shutdown -1 aborts":         {[]play{write(0, off, 60), write(59*sec, off, -1)}, []state{{10 * min, true}}},
		"a set replaces the running": {[]play{write(0, off, 60), write(59*sec, off, 120)}, []state{{min + 58*sec, true}, {179 * sec, false}}},
		"the mains returning do not end a shutdown countdown": {
			[]play{inject(0, lost), write(sec, off, 60), inject(30*sec, back)}, []state{{61*sec - ms, true}, {61 * sec, false}},
		},
		"a depleted battery does": {
			[]play{inject(0, `charge_pct = 20`), inject(sec, lost), write(2*sec, off, 3600)}, []state{{5 * min, false}},
		},
		"startup after a delay":           {[]play{write(0, off, 0), write(sec, on, 60)}, []state{{61*sec - ms, false}, {61 * sec, true}}},
		"startup 0 is now":                {[]play{write(0, off, 0), write(10*sec, on, 0)}, []state{{10 * sec, true}}},
		"startup -1 aborts":               {[]play{write(0, off, 0), write(sec, on, 60), write(2*sec, on, -1)}, []state{{10 * min, false}}},
		"startup with the output on":      {[]play{write(0, on, 60)}, []state{{0, true}, {2 * min, true}}},
		"startup overrides a startup":     {[]play{write(0, off, 0), write(0, on, 60), write(sec, on, 300)}, []state{{301*sec - ms, false}, {301 * sec, true}}},
		"startup overrides a reboot":      {[]play{write(0, reboot, 60), write(sec, on, 300)}, []state{{301*sec - ms, false}, {301 * sec, true}}},
		"startup waits for the mains":     {[]play{inject(0, lost), write(sec, off, 0), write(2*sec, on, 60), inject(5*min, back)}, []state{{5*min + 5*sec - ms, false}, {5*min + 5*sec, true}}},
		"a waiting startup is aborted":    {[]play{inject(0, lost), write(0, snap.VarAutoRestart, 2), write(sec, off, 0), write(2*sec, on, 0), write(min, on, -1), inject(5*min, back)}, []state{{10 * min, false}}},
		"reboot":                          {[]play{write(0, reboot, 60)}, []state{{0, false}, {min - ms, false}, {min, true}}},
		"reboot for 300 s":                {[]play{write(0, reboot, 300)}, []state{{5*min - ms, false}, {5 * min, true}}},
		"reboot for 0 s is seen":          {[]play{write(0, reboot, 0)}, []state{{0, false}, {sec - ms, false}, {sec, true}}},
		"reboot -1 aborts":                {[]play{write(0, reboot, 60), write(sec, reboot, -1)}, []state{{10 * min, false}}},
		"reboot with the output off":      {[]play{write(0, off, 0), write(10*sec, reboot, 60)}, []state{{70*sec - ms, false}, {70 * sec, true}}},
		"a reboot's start waits":          {[]play{inject(0, lost), write(sec, reboot, 60), inject(5*min, back)}, []state{{5 * min, false}, {5*min + 5*sec, true}}},
		"a reboot's start outlasts mains": {[]play{inject(0, lost), write(sec, reboot, 300), inject(min, back)}, []state{{301*sec - ms, false}, {301 * sec, true}}},
		"auto-restart after a countdown": {
			[]play{inject(0, lost), write(sec, off, 60), inject(5*min, back)}, []state{{5*min + 5*sec - ms, false}, {5*min + 5*sec, true}},
		},
		"auto-restart waits for a running startup countdown": {
			[]play{inject(0, lost), write(sec, off, 60), write(sec, on, 600), inject(5*min, back)}, []state{{601*sec - ms, false}, {601 * sec, true}},
		},
		"auto-restart off": {
			[]play{write(0, snap.VarAutoRestart, 2), inject(0, lost), write(sec, off, 60), inject(5*min, back)}, []state{{20 * min, false}},
		},
		// Field fact l, incident 1: the loss was over when the output went off.
		"off a second after the mains came back stays off": {
			[]play{inject(0, lost), write(10*sec, off, 60), inject(69*sec, back)}, []state{{70*sec - ms, true}, {70 * sec, false}, {10 * min, false}},
		},
		"unless startup was armed": {
			[]play{inject(0, lost), write(10*sec, off, 60), write(10*sec, on, 120), inject(69*sec, back)}, []state{{70 * sec, false}, {130*sec - ms, false}, {130 * sec, true}},
		},
		"auto-restart not after a shutdown on mains": {
			[]play{write(0, off, 0), inject(sec, lost), inject(min, back)}, []state{{10 * min, false}},
		},
		"auto-restart not after the panel": {
			[]play{inject(0, lost), inject(sec, `output = "off"`), inject(min, back)}, []state{{10 * min, false}},
		},
		"the panel takes back what waits": {
			[]play{inject(0, lost), write(sec, off, 0), inject(2*sec, `output = "off"`), inject(min, back)}, []state{{10 * min, false}},
		},
		"the panel starts": {[]play{write(0, off, 0), inject(10*sec, `output = "on"`)}, []state{{10 * sec, true}}},
		"the panel's start waits for the mains": {
			[]play{write(0, off, 0), inject(sec, lost), inject(2*sec, `output = "on"`), inject(min, back)}, []state{{min, false}, {min + 5*sec, true}},
		},
		"off and on at one tick": {
			[]play{write(0, off, 60), write(0, on, 60)}, []state{{min, false}, {61*sec - ms, false}, {61 * sec, true}},
		},
	} {
		t.Run(name, func(t *testing.T) {
			check(t, row.plays, row.want)
		})
	}
}

// check plays once for every wanted state, so that one may lie between two plays.
func check(t *testing.T, plays []play, want []state) {
	t.Helper()
	for _, s := range want {
		r := playtest.Start(t, unit)
		for _, p := range plays {
			if p.at <= s.at {
				p.do(r.To(p.at))
			}
		}
		if r.To(s.at); r.Site.UPS.OutputOn != s.output {
			t.Errorf("at %v: output on %v, want %v\n%s", s.at, r.Site.UPS.OutputOn, s.output, r.Trace())
		}
		if r.Site.Groups[0].On != s.output {
			t.Errorf("at %v: the outlets do not follow", s.at)
		}
	}
}

// TestShutdownTypeCountsAtZero: RFC 1628 upsShutdownType, "at the time of
// shutdown"; what is in the wanted state already is left alone.
func TestShutdownTypeCountsAtZero(t *testing.T) {
	r := playtest.Start(t, unit).Write(snap.VarShutdownAfter, 60).To(30 * sec)
	r.Write(snap.VarShutdownType, 2).To(min)
	if u := r.Site.UPS; u.SystemOn || u.OutputOn {
		t.Fatalf("system %v, output %v", u.SystemOn, u.OutputOn)
	}
	want(t, r, snap.AlarmUPSOffAsRequested, snap.AlarmUPSSystemOff, snap.AlarmOutputOffAsRequested, snap.AlarmUPSOutputOff)
	r.To(2*min).Write(snap.VarStartupAfter, 60).To(3 * min)
	if u := r.Site.UPS; !u.SystemOn || !u.OutputOn {
		t.Errorf("after startup (\"including starting the UPS\"): system %v, output %v", u.SystemOn, u.OutputOn)
	}
	want(t, r)

	// The output is off, the system is not: a system shutdown has work to do.
	r = playtest.Start(t, unit).Write(snap.VarShutdownAfter, 0).To(sec)
	r.Write(snap.VarShutdownAfter, 10).To(11 * sec)
	if !r.Site.UPS.SystemOn {
		t.Error("a second shutdown of the output switched the system off")
	}
	r.Write(snap.VarShutdownType, 2).Write(snap.VarShutdownAfter, 10).To(21 * sec)
	if r.Site.UPS.SystemOn {
		t.Error("the system stayed on")
	}
}

// TestReadsOfCountdowns: seconds left or none (RFC 1628), with every end seen at
// its tick.
func TestReadsOfCountdowns(t *testing.T) {
	r := playtest.Start(t, unit).Write(snap.VarShutdownAfter, 60).Write(snap.VarStartupAfter, 30)
	if c := r.Site.Control; c.ShutdownAt != min || c.StartupAt != 30*sec || c.RebootUntil != vtime.Never {
		t.Errorf("%+v", c)
	}
	r.To(30 * sec)
	if c := r.Site.Control; c.StartupAt != vtime.Never {
		t.Errorf("startup with the output on still reads %v at its end", c.StartupAt)
	}
	r.To(min).Write(snap.VarReboot, 10)
	if c := r.Site.Control; c.ShutdownAt != vtime.Never || c.RebootUntil != min+10*sec {
		t.Errorf("%+v", c)
	}
	r.Write(snap.VarShutdownAfter, 1<<31-1)
	if c := r.Site.Control; c.ShutdownAt != min+(1<<31-1)*sec {
		t.Errorf("the longest countdown ends at %v", c.ShutdownAt)
	}
}

// TestDepletion: RFC 1628 upsBatteryStatus and upsAutoRestart. The output drops
// with the unit's logic when the battery cannot go on; a countdown ends with it.
func TestDepletion(t *testing.T) {
	for name, row := range map[string]struct {
		auto string
		back bool
	}{"auto-restart on": {"true", true}, "auto-restart off": {"false", false}} {
		t.Run(name, func(t *testing.T) {
			src := strings.Replace(unit, "[card]", "[ups]\nauto_restart = "+row.auto+"\n[card]", 1)
			r := playtest.Start(t, src).Write(snap.VarShutdownAfter, 36000).Inject(`source = "lost"`)
			var low, depleted, imminent vtime.Tick
			for r.Site.UPS.SystemOn && r.Engine.Now() < vtime.Hour {
				r.To(r.Engine.Now() + ms*100)
				first(&low, r, r.Site.Battery.Status >= snap.BatteryLow)
				first(&depleted, r, r.Site.Battery.Status == snap.BatteryDepleted)
				first(&imminent, r, r.Site.Alarms.Has(snap.AlarmShutdownImminent))
			}
			gone := r.Engine.Now()
			if low == 0 || depleted < low || gone-low < 4*min || gone-low > 6*min || gone-imminent > 8*sec {
				t.Errorf("low at %v, imminent at %v, depleted at %v, gone at %v", low, imminent, depleted, gone)
			}
			if u, c := r.Site.UPS, r.Site.Card; u.OutputOn || u.SystemOn || c.State != snap.CardOff {
				t.Errorf("output %v, system %v, card %v", u.OutputOn, u.SystemOn, c.State)
			}
			if c := r.Site.Control; c.ShutdownAt != vtime.Never {
				t.Error("the countdown goes on without a battery")
			}
			r.To(2 * vtime.Hour).Inject(`source = "normal"`).To(2*vtime.Hour + 2*min)
			u := r.Site.UPS
			if u.OutputOn != row.back || u.SystemOn != row.back || r.Site.Card.State != snap.CardRunning {
				t.Errorf("mains back: output %v, system %v, card %v", u.OutputOn, u.SystemOn, r.Site.Card.State)
			}
			if r.Site.Alarms.Has(snap.AlarmUPSOffAsRequested) || r.Site.Alarms.Has(snap.AlarmOutputOffAsRequested) {
				t.Error("nobody had requested it")
			}
		})
	}
}

func first(at *vtime.Tick, r *playtest.Run, now bool) {
	if now && *at == 0 {
		*at = r.Engine.Now()
	}
}

// TestDepletionLeavesAnOffOutputOff: what somebody switched off on mains does not
// come on because an outage then emptied the battery.
func TestDepletionLeavesAnOffOutputOff(t *testing.T) {
	r := playtest.Start(t, unit).Write(snap.VarShutdownAfter, 0).Inject(`charge_pct = 1`).Inject(`source = "lost"`)
	r.To(12 * vtime.Hour)
	if r.Site.UPS.SystemOn {
		t.Fatal("the logic alone did not empty the battery")
	}
	r.Inject(`source = "normal"`).To(13 * vtime.Hour)
	if r.Site.UPS.OutputOn {
		t.Error("the output came on by itself")
	}
}

// TestDepletionWhileTheMainsQualify: the battery gives out after the mains are
// back but before they count as good. It is still the power loss that emptied it.
func TestDepletionWhileTheMainsQualify(t *testing.T) {
	src := strings.Replace(unit, "[card]", "[ups]\nqualify = \"30m\"\n[card]", 1)
	r := playtest.Start(t, src).Inject(`charge_pct = 20`).Inject(`source = "lost"`).To(30 * sec).Inject(`source = "normal"`)
	r.To(20 * min)
	if r.Site.UPS.OutputOn {
		t.Fatal("20 % lasted for 20 minutes")
	}
	r.To(30*min + 30*sec)
	if !r.Site.UPS.OutputOn {
		t.Error("auto-restart did not start the output")
	}
}

// want fails unless exactly these alarms are present.
func want(t *testing.T, r *playtest.Run, kinds ...snap.AlarmKind) {
	t.Helper()
	ok := r.Site.Alarms.Count == len(kinds)
	for _, k := range kinds {
		ok = ok && r.Site.Alarms.Has(k)
	}
	if !ok {
		var have []string
		for _, row := range r.Site.Alarms.Rows[:r.Site.Alarms.Count] {
			have = append(have, row.Kind.String())
		}
		t.Errorf("alarms at %v: %v, want %v", r.Engine.Now(), have, kinds)
	}
}
