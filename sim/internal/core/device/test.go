package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Lengths of the timed tests, and the charge that bounds the others: common
// practice.
const (
	quickTest       = 10 * vtime.Second
	systemsTest     = 5 * vtime.Second
	testNeedsPct    = 90.0
	calibrationEnds = 25.0
	// calibrationLeavesS is the estimated runtime in seconds that a calibration
	// leaves at least: enough to stop what hangs on it if the mains fail now.
	calibrationLeavesS = 120.0
	// calibrationMargin is how far above the end voltage, in V per cell, it ends at
	// the latest: a worn battery holds less than the estimate says.
	calibrationMargin = 0.05
	// passVolts is the least voltage per cell at the end of a quick test.
	passVolts = 1.80
)

func (u *UPS) testing() bool { return u.test.Result == snap.ResultInProgress }

// canTest says why a test of that kind cannot run now, "" if it can.
func (u *UPS) canTest(kind snap.TestKind) string {
	switch {
	case kind == snap.TestAbort:
		return ""
	case kind <= snap.TestNone || kind > snap.TestDeepCalibration:
		return "this unit has no such test"
	case u.testing():
		return "a test is in progress"
	case !u.onMains() || u.walking() || !u.usable():
		return "tests need the output on mains"
	case !u.canInvert():
		return "the inverter does not work"
	case kind != snap.TestGeneralSystems && u.shownCharge(&u.Physics) < testNeedsPct:
		return fmt.Sprintf("a battery test needs a charge of %.0f %%", testNeedsPct)
	case kind == snap.TestDeepCalibration && u.calibrated(&u.Physics):
		return "the runtime is too short for a calibration"
	}
	return ""
}

// StartTest begins a test, or aborts the running one. It returns the reason if
// it cannot.
func (u *UPS) StartTest(now vtime.Tick, kind snap.TestKind) string {
	if why := u.canTest(kind); why != "" {
		return why
	}
	if kind != snap.TestAbort {
		u.beginTest(now, kind)
	} else if u.testing() {
		u.finishTest(now, snap.ResultAborted, "aborted on request")
	}
	return ""
}

func (u *UPS) beginTest(now vtime.Tick, kind snap.TestKind) {
	u.test = snap.Test{
		ID: kind, SpinLock: u.test.SpinLock, Result: snap.ResultInProgress,
		Started: now, Ended: vtime.Never,
	}
	u.testFailed = false
	u.says(snap.What{Kind: snap.WhatTestBegins}, "test", kind.String()+" started")
	switch kind {
	case snap.TestGeneralSystems:
		u.testUntil = now + systemsTest
	case snap.TestQuickBattery:
		u.testUntil = now + quickTest
		u.toBattery(now)
	case snap.TestDeepCalibration: // ends by charge
		u.toBattery(now)
	}
}

// endTest ends the running test when its time or its charge is reached.
func (u *UPS) endTest(now vtime.Tick) {
	if !u.testing() {
		return
	}
	switch {
	case u.testUntil <= now && u.test.ID == snap.TestQuickBattery && u.Physics.CellVolts < passVolts:
		u.batteryBad = true
		u.finishTest(now, snap.ResultError, fmt.Sprintf("battery at %.1f V under load", u.stringVolts(&u.Physics)))
	case u.testUntil <= now && u.chargerDead && u.test.ID == snap.TestGeneralSystems:
		u.finishTest(now, snap.ResultError, "the charger does not work")
	case u.testUntil <= now:
		u.batteryBad = u.batteryBad && u.test.ID == snap.TestGeneralSystems
		u.finishTest(now, snap.ResultPass, "no fault found")
	case u.test.ID == snap.TestDeepCalibration && u.calibrated(&u.Physics):
		u.learn()
		u.finishTest(now, snap.ResultPass, "battery discharged for calibration")
	}
}

// calibrated says whether a calibration has discharged the battery far enough:
// RFC 1628 upsTestDeepBatteryCalibration leaves the level to the maker.
func (u *UPS) calibrated(p *Physics) bool {
	return u.shownCharge(p) <= calibrationEnds || p.RuntimeS <= calibrationLeavesS ||
		u.OnBattery() && p.CellVolts <= u.bat.CutoffV+calibrationMargin
}

// finishTest ends the running test and puts the output back on the mains.
func (u *UPS) finishTest(now vtime.Tick, r snap.TestResult, detail string) {
	u.closeTest(now, r, detail)
	if u.OnBattery() && u.usable() {
		u.toMains(now)
	}
}

func (u *UPS) closeTest(now vtime.Tick, r snap.TestResult, detail string) {
	u.test.Result, u.test.Detail, u.test.Ended = r, detail, now
	u.testUntil = vtime.Never
	u.testFailed = r == snap.ResultError
	u.note("test", fmt.Sprintf("%s %s: %s", u.test.ID, r, detail))
}

// abandonTest ends a running test because the output goes elsewhere.
func (u *UPS) abandonTest(now vtime.Tick, why string) {
	if u.testing() {
		u.closeTest(now, snap.ResultAborted, why)
	}
}
