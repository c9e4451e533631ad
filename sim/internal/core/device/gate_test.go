package device_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// gated holds its output for a charge of 40 % and half a minute.
const gated = `
title = "gate"
run_for = "24h"
[card]
address = "192.0.2.10/24"
restart_charge_pct = 40
restart_off = "30s"
[[host]]
name = "db"
draw_w = 400
`

// outage has the output go off in an outage by an ordered countdown, at a charge of
// 10 %, and the mains come back after another minute.
func outage(t *testing.T, src string) *playtest.Run {
	r := playtest.Start(t, src).To(min).Inject(`source = "lost"`).Write(snap.VarShutdownAfter, 30)
	return r.To(2 * min).Inject("charge_pct = 10").To(3 * min).Inject(`source = "normal"`)
}

// TestGateHoldsForCharge: the automatic restart waits for the charge, as the unit
// knows it, to the tick at which it is there; and no alarm says that it waits for
// the mains (RFC 1628 upsAlarmAwaitingPower) while they are good.
func TestGateHoldsForCharge(t *testing.T) {
	r := outage(t, gated).To(4 * min)
	if r.Site.UPS.OutputOn || !r.Site.UPS.AwaitsCharge || r.Site.Alarms.Has(snap.AlarmAwaitingPower) {
		t.Fatalf("a minute later: %+v", r.Site.UPS)
	}
	for r.Site.UPS.AwaitsCharge && r.Engine.Now() < 12*vtime.Hour {
		r.Step()
	}
	if got := r.Site.Battery.ChargePct; !r.Site.UPS.OutputOn || got < 40 || got > 40.01 {
		t.Errorf("at %.3f %%: %+v", got, r.Site.UPS)
	}
}

// TestGateAndASecondOutage: what waits for charge waits for the mains again, and
// starts by itself when both are there.
func TestGateAndASecondOutage(t *testing.T) {
	r := outage(t, gated).To(5 * min).Inject(`source = "lost"`).To(6 * min)
	if r.Site.UPS.OutputOn || !r.Site.Alarms.Has(snap.AlarmAwaitingPower) {
		t.Errorf("in the second outage: %+v", r.Site.UPS)
	}
	r.Inject("charge_pct = 60").To(7 * min)
	if r.Site.UPS.OutputOn {
		t.Error("it started without mains")
	}
	if r.Inject(`source = "normal"`).To(8 * min); !r.Site.UPS.OutputOn || r.Site.UPS.AwaitsCharge {
		t.Errorf("in the end: %+v", r.Site.UPS)
	}
}

// TestWhoWaitsForTheGate: RFC 1628 bounds a reboot at what was asked for and a
// minute, and a person at the unit decides alone. An order to start waits; to call it
// off ends that.
func TestWhoWaitsForTheGate(t *testing.T) {
	for name, row := range map[string]struct {
		do   func(*playtest.Run)
		want bool
	}{
		"at the unit": {func(r *playtest.Run) { r.Inject(`output = "on"`) }, true},
		"startup":     {func(r *playtest.Run) { r.Write(snap.VarStartupAfter, 0) }, false},
		"reboot":      {func(r *playtest.Run) { r.Write(snap.VarReboot, 5) }, true},
		"called off": {func(r *playtest.Run) {
			r.Write(snap.VarStartupAfter, -1).Inject("charge_pct = 90")
		}, false},
	} {
		r := outage(t, gated).To(5 * min)
		row.do(r)
		if r.To(6 * min); r.Site.UPS.OutputOn != row.want {
			t.Errorf("%s: the output is on: %v", name, r.Site.UPS.OutputOn)
		}
	}
}

// TestShortestOff: the output stays off for as long as is set, to the tick; the end
// of a reboot does not wait for it.
func TestShortestOff(t *testing.T) {
	r := playtest.Start(t, gated).To(min).Write(snap.VarShutdownAfter, 0).To(min+5*sec).Write(snap.VarStartupAfter, 0)
	if r.To(min + 30*sec - ms); r.Site.UPS.OutputOn {
		t.Error("too early")
	}
	if r.To(min + 30*sec); !r.Site.UPS.OutputOn {
		t.Error("not when it is due")
	}
	r.To(5*min).Write(snap.VarReboot, 5)
	if r.To(5*min + 6*sec); !r.Site.UPS.OutputOn {
		t.Error("the reboot took longer than was asked for")
	}
}
