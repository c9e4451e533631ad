package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// duePath performs what has fallen due in the way of the power.
func (u *UPS) duePath(now vtime.Tick) {
	if u.walkUntil <= now {
		u.finishWalk()
		u.note("input", "the rectifier carries the load")
	}
	if u.deadAt <= now {
		u.deadAt = vtime.Never
		u.inLoss = true
		u.open(now, snap.Why{Text: "the maintenance bypass is dead"})
	}
	u.watchHeat(now)
	u.endOverload(now)
	if u.mayReturn(&u.Physics) {
		u.leaveBypass(now, 0)
	}
	if u.directAt <= now && u.mayGoDirect(&u.Physics) {
		u.direct = true
		u.upset()
		u.note("output", "high-efficiency mode")
	}
}

// pathDue is the next instant after now at which duePath will act by the clock.
func (u *UPS) pathDue(now vtime.Tick) vtime.Tick {
	next := min(u.walkUntil, u.deadAt)
	if u.directAt > now {
		next = min(next, u.directAt)
	}
	return next
}

// mayGoDirect says whether the static switch may feed the output from the input,
// for the sake of efficiency: never with anything else going on.
func (u *UPS) mayGoDirect(p *Physics) bool {
	_, converts := u.class.(double)
	return converts && u.thrifty && !u.direct && u.source == snap.SourceNormal &&
		!u.walking() && !u.testing() && u.canInvert() && u.usable() && u.synchronised(p)
}

// leaveDirect ends high-efficiency mode: the inverter takes the load.
func (u *UPS) leaveDirect() {
	u.fall(u.deadGap(u.cfg.Transfer))
	u.direct = false
	u.upset()
	u.note("output", "double conversion"+gapText(u.gap))
}

// SetHighEfficiency allows high-efficiency mode or not. It returns the reason if
// the unit has none.
func (u *UPS) SetHighEfficiency(now vtime.Tick, on bool) string {
	if _, converts := u.class.(double); !converts {
		return "this unit has no high-efficiency mode"
	}
	u.thrifty = on
	if on && u.bypassGood {
		u.directAt = now
	}
	if !on && u.direct {
		u.leaveDirect()
	}
	return ""
}

// path is the part of the signature that belongs to the way of the power.
func (u *UPS) path(p *Physics) (s uint64) {
	bit := func(i int, on bool) {
		if on {
			s |= 1 << i
		}
	}
	bit(0, u.tripped(p))
	bit(1, u.mayReturn(p))
	bit(2, u.mayGoDirect(p))
	bit(3, u.overheated(p))
	bit(4, u.cooled(p))
	bit(5, p.UnitC >= u.cfg.Converter.WarnC)
	return s
}
