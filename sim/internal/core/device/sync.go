package device

import (
	"math"

	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/num"
)

// syncWithin is how near the frequencies of inverter and bypass are when the
// two count as synchronised, in hertz; the phase is taken to follow. Common
// practice.
const syncWithin = 0.1

// target is the frequency that the inverter strives for: that of the bypass
// while it is in its window, else its own.
func (u *UPS) target() float64 {
	if u.hzInBypassWindow() && u.alive() {
		return u.bypass.Hz
	}
	return u.config.OutputHz
}

// slew moves the inverter's frequency to its target, no faster than the load may
// be asked to follow.
func (u *UPS) slew(p *Physics, dt vtime.Tick) {
	most := float64(u.cfg.SlewHzPerS * dt.Seconds())
	if most <= 0 { // without a limit
		p.InverterHz = u.target()
		return
	}
	p.InverterHz = num.Clamp(u.target(), p.InverterHz-most, p.InverterHz+most)
}

// synchronised says whether the output can change between inverter and bypass
// without a gap.
func (u *UPS) synchronised(p *Physics) bool {
	return u.bypassGood && math.Abs(p.InverterHz-u.bypass.Hz) <= syncWithin
}
