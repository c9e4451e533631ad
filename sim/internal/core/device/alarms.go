package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Conditions is a set of alarm kinds, one bit each.
type Conditions uint32

// With is c with kind k present or not.
func (c Conditions) With(k snap.AlarmKind, present bool) Conditions {
	if present {
		return c | 1<<k
	}
	return c &^ (1 << k)
}

// Has says whether k is present.
func (c Conditions) Has(k snap.AlarmKind) bool { return c&(1<<k) != 0 }

// Conditions are the alarms at now: those that the unit's own state raises, and
// those that the bench did.
func (u *UPS) Conditions(now vtime.Tick) (c Conditions) {
	p := &u.Physics
	off := !u.OutputOn()
	imminently := u.control.ShutdownAt != vtime.Never && u.control.ShutdownAt-now < imminent
	c = c.With(snap.AlarmBatteryBad, u.batteryBad)
	c = c.With(snap.AlarmOnBattery, u.OnBattery())
	c = c.With(snap.AlarmLowBattery, u.low(p))
	c = c.With(snap.AlarmDepletedBattery, u.depleted(p))
	c = c.With(snap.AlarmTempBad, p.TempC > hotC || p.UnitC >= u.cfg.Converter.WarnC)
	c = c.With(snap.AlarmInputBad, !u.feed.Good && u.countAt == vtime.Never)
	c = c.With(snap.AlarmOutputOverload, u.OutputOn() && u.share(p) > 1)
	c = c.With(snap.AlarmOutputBad, u.OnBypass() && !u.inBypassWindow())
	c = c.With(snap.AlarmOnBypass, u.OnBypass())
	c = c.With(snap.AlarmBypassBad, u.cfg.Bypass.Fitted && !u.bypassGood)
	c = c.With(snap.AlarmOutputOffAsRequested, off && u.asked)
	c = c.With(snap.AlarmUPSOffAsRequested, !u.systemOn && u.ordered)
	c = c.With(snap.AlarmChargerFailed, u.chargerDead)
	c = c.With(snap.AlarmUPSOutputOff, off)
	c = c.With(snap.AlarmUPSSystemOff, !u.systemOn)
	c = c.With(snap.AlarmFanFailure, u.fanDead)
	c = c.With(snap.AlarmGeneralFault, u.inverterDead || u.tooHot)
	c = c.With(snap.AlarmDiagnosticTestFailed, u.testFailed)
	c = c.With(snap.AlarmAwaitingPower, off && !u.usable() && (u.waiting || u.inLoss && u.control.AutoRestart && !u.parked))
	c = c.With(snap.AlarmShutdownPending, u.control.ShutdownAt != vtime.Never)
	c = c.With(snap.AlarmShutdownImminent, u.OutputOn() && (imminently || u.OnBattery() && p.RuntimeS < imminent.Seconds()))
	c = c.With(snap.AlarmTestInProgress, u.testing())
	return c | u.raised
}
