package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// imminent is how long before the output goes off the last alarm begins
// (RFC 1628 upsAlarmShutdownImminent).
const imminent = 5 * vtime.Second

// leastOff is how long the output stays off at least, so that every machine
// behind it sees the gap: common practice. RFC 1628 upsRebootWithDuration lets
// a reboot take up to a minute more than it was asked for.
const leastOff = vtime.Second

// depletedS is the estimate in seconds below which the battery cannot carry the
// present load (RFC 1628 upsBatteryStatus batteryDepleted).
const depletedS = 1

// Reasons to take the output off, or to the bypass.
var (
	exhausted  = snap.Why{Cause: snap.CauseExhausted, Text: "the battery is exhausted"}
	noInverter = snap.Why{Text: "the inverter does not work"}
)

// countDown performs the countdowns that have run out.
func (u *UPS) countDown(now vtime.Tick) {
	c := &u.control
	if runOut(&c.ShutdownAt, now) {
		u.note("ups", "the shutdown countdown ran out")
		u.switchOff(now, snap.Why{Cause: snap.CauseOrdered, Text: "ordered"}, true)
	}
	if runOut(&c.RebootUntil, now) {
		u.note("ups", "the reboot countdown ran out")
		u.free = true // within a minute of what was asked for, says RFC 1628
		u.startDue(now)
	}
	if runOut(&c.StartupAt, now) {
		u.note("ups", "the startup countdown ran out")
		u.startDue(now)
	}
	if runOut(&u.startAt, now) {
		u.startDue(now)
	}
}

// runOut says whether a countdown has ended, and stops it.
func runOut(at *vtime.Tick, now vtime.Tick) bool {
	if *at > now {
		return false
	}
	*at = vtime.Never
	return true
}

// startDue starts the output, or has it wait for the mains. A battery never
// starts it: the standard has the startup wait.
func (u *UPS) startDue(now vtime.Tick) {
	switch {
	case u.OutputOn():
	case u.usable():
		u.switchOn(now)
	default:
		u.waiting = true
		u.note("output", "startup waits for the mains")
	}
}

// switchOff opens the output, and the whole system if upsShutdownType says so
// at this moment; what is off already stays so. counted tells whether it is one
// of the causes that the automatic restart covers.
func (u *UPS) switchOff(now vtime.Tick, why snap.Why, counted bool) {
	if u.why == causeService {
		u.note("output", "the maintenance bypass is closed: nothing to switch off")
		return
	}
	if u.OutputOn() {
		u.asked = true
		u.inLoss = counted && !u.feed.Good
		u.open(now, why)
	}
	if u.control.ShutdownType == 2 && u.systemOn {
		u.systemOff(true)
	}
}

// open takes the voltage off the output. A maintenance bypass stays closed.
func (u *UPS) open(now vtime.Tick, why snap.Why) {
	closed := u.why
	u.putOn(snap.SourceNone)
	if closed == causeService {
		u.why = causeService
	}
	u.outputOn = false
	u.waiting = false
	u.offAt, u.startAt = now, vtime.Never
	u.holds, u.free = false, false
	u.says(snap.What{Kind: snap.WhatOutputOff, Why: why}, "output", "off: "+why.Text)
	if u.testing() {
		u.finishTest(now, snap.ResultAborted, "the output went off during the test")
	}
}

func (u *UPS) systemOff(ordered bool) {
	u.systemOn, u.ordered = false, ordered
	u.upset()
	u.note("ups", "system off")
}

// switchOn starts the output on the mains, once it has been off long enough. A
// unit whose inverter is not fit for it starts on the bypass.
func (u *UPS) switchOn(now vtime.Tick) {
	if at := u.offAt + u.shortestOff(); now < at {
		u.startAt = at
		return
	}
	if !u.mayStart() {
		return
	}
	fit := u.canInvert() || !u.class.converts(u)
	if u.startAt = vtime.Never; !fit && !u.canBypass() {
		u.note("output", "cannot start: the inverter does not work")
		return
	}
	u.waiting, u.asked, u.inLoss, u.holds = false, false, false, false
	u.systemOn = true
	if fit {
		u.toMains(now)
	} else {
		u.toBypass(causeFault, noInverter)
	}
	u.outputOn, u.parked = true, false
}

// dropWhenExhausted ends battery operation when the battery cannot go on. A
// running shutdown countdown ends with it.
func (u *UPS) dropWhenExhausted(now vtime.Tick) {
	if !u.discharging() || !u.exhausted(&u.Physics) {
		return
	}
	if u.testing() && u.usable() {
		u.batteryBad = true
		u.finishTest(now, snap.ResultError, "the battery collapsed under the load")
		return
	}
	if u.walking() {
		u.note("input", "the rectifier carries the load: the battery is exhausted")
		u.finishWalk()
		return
	}
	u.ranDry()
	if u.OnBattery() && u.canBypass() { // a bypass with a feed of its own
		u.toBypass(causeFault, exhausted)
		return
	}
	u.control.ShutdownAt = vtime.Never
	if u.OutputOn() && u.why != causeService {
		u.asked, u.inLoss = false, true
		u.open(now, exhausted)
	}
	u.systemOff(false)
}

// Panel switches the output at the unit itself. Switched off there it stays off
// until somebody switches it on.
func (u *UPS) Panel(now vtime.Tick, on bool) {
	if on {
		u.free = true
		u.startDue(now)
		return
	}
	u.switchOff(now, snap.Why{Text: "switched off at the unit"}, false)
	u.startAt, u.waiting, u.inLoss, u.holds = vtime.Never, false, false, false
}

// AgentRestarted tells the controller that the management subsystem started
// anew: seconds on battery count from here (RFC 1628 upsSecondsOnBattery), the
// spin lock starts at 1, and a unit whose agent holds the countdowns loses them.
// What the last test came to is the unit's own and stays.
func (u *UPS) AgentRestarted(now vtime.Tick, loseCountdowns bool) {
	if u.since != vtime.Never {
		u.since = now
	}
	u.test.SpinLock = 1
	if loseCountdowns && u.control.ShutdownAt != vtime.Never {
		u.control.ShutdownAt = vtime.Never
		u.note("ups", "the shutdown countdown was lost with the agent")
	}
}

// order carries out a set of the three countdowns. seconds is -1 (abort), 0
// (now) or the delay.
func (u *UPS) order(now vtime.Tick, v snap.Var, seconds int64) {
	at := vtime.Never
	if seconds >= 0 {
		at = now + vtime.Tick(seconds)*vtime.Second
	}
	u.note("control", fmt.Sprintf("%s %d", v, seconds))
	switch v {
	case snap.VarShutdownAfter:
		u.control.ShutdownAt = at
		u.parked = u.parked && seconds >= 0
	case snap.VarStartupAfter:
		u.control.StartupAt, u.control.RebootUntil = at, vtime.Never
		u.startAt, u.waiting, u.holds = vtime.Never, false, false
	case snap.VarReboot:
		u.control.RebootUntil = at
		if seconds >= 0 {
			u.startAt, u.waiting, u.holds = vtime.Never, false, false
			u.switchOff(now, snap.Why{Text: "reboot"}, false) // it starts the output again itself
		}
	}
}
