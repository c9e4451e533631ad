package device

import (
	"ridethrough/sim/internal/core/vtime"
)

// Judge is how the unit would judge input and bypass if they came now, one bit
// each: a supply that moves by itself has to be passed on at the tick at which this
// changes.
func (u *UPS) Judge(input, bypass Supply) (bits uint64) {
	was, wasBypass := u.feed, u.bypass
	u.feed, u.bypass = u.judge(input), bypass
	bit := func(i int, on bool) {
		if on {
			bits |= 1 << i
		}
	}
	for i, bad := range u.feed.Bad {
		bit(i, bad)
	}
	bit(3, u.inBypassWindow())
	bit(4, u.hzInBypassWindow())
	bit(5, u.alive())
	if u.onMains() {
		bits |= uint64(u.class.tap(u)) << 8
	}
	u.feed, u.bypass = was, wasBypass
	return bits
}

// HeatGiven is the mean heat in watts that unit and battery gave to the room in a
// step of dt from before to after: their loss, less what they kept.
func (u *UPS) HeatGiven(before, after *Physics, f Flows, dt vtime.Tick) float64 {
	kept := float64(u.body.HeatJPerK*(after.TempC-before.TempC)) +
		float64(u.unitNode().HeatJPerK*(after.UnitC-before.UnitC))
	return f.Loss - kept/dt.Seconds()
}
