package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// SetGate tells the unit what holds its output off after it went off. A start at
// the unit itself, and the end of a reboot, which RFC 1628 bounds, do not wait for
// it. Without a gate the unit keeps to the standard alone.
func (u *UPS) SetGate(g snap.RestartGate) { u.gate = g }

// Gate is what the unit was told last.
func (u *UPS) Gate() snap.RestartGate { return u.gate }

// shortestOff is how long the output stays off at least.
func (u *UPS) shortestOff() vtime.Tick {
	if u.free {
		return leastOff
	}
	return max(leastOff, u.gate.Off)
}

// charged says whether the charge, as the unit knows it, lets the output come on.
func (u *UPS) charged(p *Physics) bool { return u.shownCharge(p) >= float64(u.gate.Pct) }

// mayStart says whether the charge lets the output come on; else the start waits.
// That is no alarm of RFC 1628: upsAlarmAwaitingPower is for the mains.
func (u *UPS) mayStart() bool {
	if u.free || u.charged(&u.Physics) {
		return true
	}
	if !u.holds {
		u.note("output", fmt.Sprintf("startup waits for a charge of %d %%", u.gate.Pct))
	}
	u.holds, u.waiting = true, true
	return false
}

// startCharged starts an output that had to wait for its charge.
func (u *UPS) startCharged(now vtime.Tick) {
	if u.holds && u.usable() && u.charged(&u.Physics) {
		u.holds = false
		u.switchOn(now)
	}
}

// Testing says whether a test runs, during which battery operation is no outage.
func (u *UPS) Testing() bool { return u.testing() }

// Charge is the charge in percent as the unit knows it at p.
func (u *UPS) Charge(p *Physics) float64 { return u.shownCharge(p) }

// RuntimeS is the runtime in seconds as the unit estimates it at p.
func (u *UPS) RuntimeS(p *Physics) float64 { return u.shownRuntime(p) }

// LoadPct is the load of the output in percent of its rating, 0 while it is off.
func (u *UPS) LoadPct() float64 {
	if !u.OutputOn() {
		return 0
	}
	return u.loadPct
}
