package device_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestBenchRaisesEveryAlarm: all 24 of RFC 1628 upsWellKnownAlarms.
func TestBenchRaisesEveryAlarm(t *testing.T) {
	r := playtest.Start(t, unit)
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		r.To(r.Engine.Now() + sec).Inject(`alarm = {raise = "` + k.String() + `"}`)
		want(t, r, k)
		r.Inject(`alarm = {clear = "` + k.String() + `"}`)
		want(t, r)
	}
	if n := r.Count(" raised"); n != 24 {
		t.Errorf("%d alarms were raised", n)
	}
}

// TestBenchDoesNotHideTheTruth: clearing what the unit itself raises does nothing.
func TestBenchDoesNotHideTheTruth(t *testing.T) {
	r := playtest.Start(t, unit).Inject(`source = "lost"`).Inject(`alarm = {clear = "input_bad"}`).To(min)
	want(t, r, snap.AlarmOnBattery, snap.AlarmInputBad)
}

// TestAlarmsOfTheUnit raises by its cause every alarm that the model has a cause
// for, and takes the cause away. Of the others fuse_failure and
// communications_lost have none: only the bench raises them. Those of the bypass:
// see TestMaintenance; of inverter, fans and heat: TestInverterFails and TestHeat;
// tests and batteries that fail: TestWeakBattery.
func TestAlarmsOfTheUnit(t *testing.T) {
	for name, row := range map[string]struct {
		ups, battery string
		raise        []play
		at           vtime.Tick
		kinds        []snap.AlarmKind
		clear        []play
		gone         vtime.Tick
	}{
		"on battery, input bad": {
			raise: []play{inject(0, `source = "lost"`)}, kinds: []snap.AlarmKind{snap.AlarmOnBattery, snap.AlarmInputBad},
			at: min, clear: []play{inject(min, `source = "normal"`)}, gone: min + 5*sec,
		},
		"low on mains": { // RFC 1628 upsBatteryStatus: whether or not on battery
			raise: []play{inject(0, `charge_pct = 15`)}, kinds: []snap.AlarmKind{snap.AlarmLowBattery},
			clear: []play{inject(sec, `charge_pct = 90`)}, gone: sec,
		},
		"depleted on mains": {
			raise: []play{inject(0, `charge_pct = 0`)}, kinds: []snap.AlarmKind{snap.AlarmLowBattery, snap.AlarmDepletedBattery},
			clear: []play{inject(sec, `charge_pct = 90`)}, gone: sec,
		},
		"low because the load rose": {
			raise: []play{inject(0, "host = \"db\"\ndraw_w = 2000")}, kinds: []snap.AlarmKind{snap.AlarmLowBattery},
			clear: []play{inject(sec, "host = \"db\"\ndraw_w = 600")}, gone: sec,
		},
		"overload": { // 2860 W at 0.95 are 3011 VA of 3000; 2500 W are 2632 VA
			battery: "series = 20",
			raise:   []play{inject(0, "host = \"db\"\ndraw_w = 2860")}, kinds: []snap.AlarmKind{snap.AlarmOutputOverload},
			clear: []play{inject(sec, "host = \"db\"\ndraw_w = 2500")}, gone: sec,
		},
		"hot battery": {
			battery: "ambient_c = 55", kinds: []snap.AlarmKind{snap.AlarmTempBad},
		},
		"charger": {
			raise: []play{inject(0, `charger = "failed"`)}, kinds: []snap.AlarmKind{snap.AlarmChargerFailed},
			clear: []play{inject(sec, `charger = "working"`)}, gone: sec,
		},
		"output off on request": {
			raise: []play{write(0, snap.VarShutdownAfter, 0)}, kinds: []snap.AlarmKind{snap.AlarmOutputOffAsRequested, snap.AlarmUPSOutputOff},
			clear: []play{write(10*sec, snap.VarStartupAfter, 0)}, gone: 10 * sec,
		},
		"output off at the unit": {
			raise: []play{inject(0, `output = "off"`)}, kinds: []snap.AlarmKind{snap.AlarmOutputOffAsRequested, snap.AlarmUPSOutputOff},
			clear: []play{inject(10*sec, `output = "on"`)}, gone: 10 * sec,
		},
		"system off on request": {
			ups:   `shutdown_type = "system"`,
			raise: []play{write(0, snap.VarShutdownAfter, 0)},
			kinds: []snap.AlarmKind{snap.AlarmOutputOffAsRequested, snap.AlarmUPSOutputOff, snap.AlarmUPSOffAsRequested, snap.AlarmUPSSystemOff},
			clear: []play{write(10*sec, snap.VarStartupAfter, 0)}, gone: 10 * sec,
		},
		"awaiting power": {
			raise: []play{inject(0, `source = "lost"`), write(0, snap.VarShutdownAfter, 0)}, at: min,
			kinds: []snap.AlarmKind{snap.AlarmInputBad, snap.AlarmOutputOffAsRequested, snap.AlarmUPSOutputOff, snap.AlarmAwaitingPower},
			clear: []play{inject(min, `source = "normal"`)}, gone: min + 5*sec,
		},
		"nobody awaits power": {
			ups:   `auto_restart = false`,
			raise: []play{inject(0, `source = "lost"`), write(0, snap.VarShutdownAfter, 0)}, at: min,
			kinds: []snap.AlarmKind{snap.AlarmInputBad, snap.AlarmOutputOffAsRequested, snap.AlarmUPSOutputOff},
		},
		"shutdown pending": {
			raise: []play{write(0, snap.VarShutdownAfter, 60)}, kinds: []snap.AlarmKind{snap.AlarmShutdownPending}, at: 55 * sec,
			clear: []play{write(55*sec, snap.VarShutdownAfter, -1)}, gone: 55 * sec,
		},
		"shutdown imminent": { // less than 5 s
			raise: []play{write(0, snap.VarShutdownAfter, 60)}, at: 55*sec + ms,
			kinds: []snap.AlarmKind{snap.AlarmShutdownPending, snap.AlarmShutdownImminent},
			clear: []play{write(56*sec, snap.VarShutdownAfter, -1)}, gone: 56 * sec,
		},
		"test in progress": {
			raise: []play{inject(0, `test = "general-systems"`)}, kinds: []snap.AlarmKind{snap.AlarmTestInProgress}, gone: 5 * sec,
		},
	} {
		t.Run(name, func(t *testing.T) {
			src := strings.Replace(unit, "[card]", "[ups]\n"+row.ups+"\n[battery]\n"+row.battery+"\n[card]", 1)
			r := playtest.Start(t, src)
			for _, p := range row.raise {
				p.do(r.To(p.at))
			}
			want(t, r.To(row.at), row.kinds...)
			for _, p := range row.clear {
				p.do(r.To(p.at))
			}
			if row.gone > 0 {
				want(t, r.To(row.gone))
			}
		})
	}
}

// TestLowBatteryOnBattery: RFC 1628 upsBatteryStatus: low when the estimate is
// at or below upsConfigLowBattTime, to the tick.
func TestLowBatteryOnBattery(t *testing.T) {
	r := playtest.Start(t, unit).Inject(`source = "lost"`)
	for r.Site.Battery.Status == snap.BatteryNormal {
		r.Step()
	}
	if s := r.Site.Battery.RuntimeS; s > 300 || s < 299.99 {
		t.Errorf("low at %.3f s, want 300", s)
	}
}
