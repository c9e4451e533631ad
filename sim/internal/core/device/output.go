package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// imminent is how long before the output goes off the last alarm begins
// (RFC 1628 upsAlarmShutdownImminent).
const imminent = 5 * vtime.Second

// depletedS is the estimate in seconds below which the battery cannot carry the
// present load (RFC 1628 upsBatteryStatus batteryDepleted).
const depletedS = 1

// countDown performs the countdowns that have run out.
func (u *UPS) countDown(now vtime.Tick) {
	if u.control.ShutdownAt <= now {
		u.control.ShutdownAt = vtime.Never
		u.switchOff("the shutdown countdown ran out", true)
	}
	if u.control.RebootUntil <= now {
		u.control.RebootUntil = vtime.Never
		u.startDue(now)
	}
	if u.control.StartupAt <= now {
		u.control.StartupAt = vtime.Never
		u.startDue(now)
	}
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
// at this moment. counted tells whether it is one of the causes that the
// automatic restart covers.
func (u *UPS) switchOff(why string, counted bool) {
	if !u.OutputOn() {
		return
	}
	u.asked = counted
	u.inLoss = !u.feed.Good
	u.open(why)
	if u.control.ShutdownType == 2 {
		u.systemOn = false
		u.note("ups", "system off")
	}
}

func (u *UPS) open(why string) {
	u.outputOn = false
	u.source = snap.SourceNone
	u.since = vtime.Never
	u.waiting = false
	u.estimatedAt = -vtime.Hour
	u.note("output", "off: "+why)
}

func (u *UPS) switchOn(now vtime.Tick) {
	u.systemOn, u.outputOn = true, true
	u.waiting, u.asked, u.inLoss = false, false, false
	u.toMains()
}

// dropWhenExhausted ends battery operation when the battery cannot go on. A
// running shutdown countdown ends with it.
func (u *UPS) dropWhenExhausted(vtime.Tick) {
	if !u.discharging() || !u.exhausted(&u.Physics) {
		return
	}
	if u.testing() && u.usable() {
		u.batteryBad = true
		u.finishTest(u.estimatedAt, snap.ResultError, "the battery collapsed under the load")
		return
	}
	u.asked = false
	u.inLoss = !u.feed.Good
	u.control.ShutdownAt = vtime.Never
	u.open("the battery is exhausted")
	u.systemOn = false
}

// Panel switches the output at the unit itself.
func (u *UPS) Panel(now vtime.Tick, on bool) {
	if on {
		u.startDue(now)
		return
	}
	u.switchOff("switched off at the unit", false)
	u.inLoss = false
}

// AgentRestarted tells the controller that the management subsystem started
// anew: seconds on battery count from here (RFC 1628 upsSecondsOnBattery), and a
// unit whose agent holds the countdowns loses them.
func (u *UPS) AgentRestarted(now vtime.Tick, loseCountdowns bool) {
	if u.since != vtime.Never {
		u.since = now
	}
	u.test.SpinLock = 1
	if !u.testing() {
		u.test = snap.Test{ID: snap.TestNone, SpinLock: 1, Result: snap.ResultNone, Ended: vtime.Never}
	}
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
	case snap.VarStartupAfter:
		u.control.StartupAt, u.control.RebootUntil, u.waiting = at, vtime.Never, false
	case snap.VarReboot:
		u.control.RebootUntil = at
		if seconds >= 0 {
			u.switchOff("reboot", true)
			u.inLoss = false // the reboot itself starts the output again
		}
	}
}
