package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/num"
	"ridethrough/sim/internal/phys/thermal"
)

// cooler is how many kelvins below its trip point a hot unit starts its
// converters again: common practice.
const cooler = 10.0

// leastDerating is the smallest share of its rating that a unit in the heat keeps.
const leastDerating = 0.1

// unitNode is the unit as a lump of heat, with its fans as they are.
func (u *UPS) unitNode() thermal.Node {
	c := &u.cfg.Converter
	n := thermal.Node{HeatJPerK: c.HeatJPerK, CoolWPerK: c.CoolWPerK}
	if u.fanDead {
		n.CoolWPerK = float64(n.CoolWPerK * c.NoFan)
	}
	return n
}

// warmUp puts the unit to the temperature that it has come to under its load, as
// after a long time.
func (u *UPS) warmUp() {
	p := &u.Physics
	p.UnitC = p.RoomC + u.unitNode().Rise(u.lossPast()+u.lossThrough())
}

// SetFan fails or mends the fans of the unit.
func (u *UPS) SetFan(working bool) {
	u.fanDead = !working
	u.upset()
}

// derating is the share of its rating that the unit may carry in the heat of the
// room (IEC 62040-3: rated up to 40 C unless the maker says otherwise).
func (u *UPS) derating(p *Physics) float64 {
	c := &u.cfg.Converter
	over := max(p.RoomC-c.DerateC, 0)
	return num.Clamp(1-float64(c.DeratePct*over)/100, leastDerating, 1)
}

func (u *UPS) overheated(p *Physics) bool { return p.UnitC >= u.cfg.Converter.TripC }

func (u *UPS) cooled(p *Physics) bool { return p.UnitC <= u.cfg.Converter.TripC-cooler }

// canInvert says whether the inverter can feed the output.
func (u *UPS) canInvert() bool { return !u.inverterDead && !u.tooHot }

// needsInverter says whether the output hangs on it now.
func (u *UPS) needsInverter() bool {
	return u.OnBattery() || u.onMains() && u.class.converts(u)
}

// watchHeat stops the converters when they are too hot, and lets them start
// again when they have cooled down.
func (u *UPS) watchHeat(now vtime.Tick) {
	switch {
	case !u.tooHot && u.overheated(&u.Physics):
		u.tooHot = true
		u.note("ups", "too hot: the converters stop")
		if u.needsInverter() {
			u.divert(now, snap.Why{Text: "the unit is too hot"})
		}
	case u.tooHot && u.cooled(&u.Physics):
		u.tooHot = false
		u.note("ups", "cooled down")
	}
}

// SetInverter fails or mends the inverter.
func (u *UPS) SetInverter(now vtime.Tick, working bool) {
	u.inverterDead = !working
	u.upset()
	if u.inverterDead && u.needsInverter() {
		u.divert(now, noInverter)
	}
}
