package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
)

// chargerLoss is the share of the charger's output lost on the way from the
// mains: common practice.
const chargerLoss = 0.10

// Flows are the powers of one step, in watts: Mains + Battery = Output + Loss.
type Flows struct {
	Mains, Output, Loss float64
	Battery             float64 // fall of its stored energy per time
}

// flows moves the battery by step and says where the power went, without the
// heat in the battery; Battery is then the power at its terminals.
func (u *UPS) flows(p *Physics, step *battery.Step) (f Flows) {
	if u.carries() {
		f.Output = u.load.Watts
	}
	past, through := u.lossPast(), u.lossThrough()
	f.Loss = past + through
	need := f.Loss // of the converters
	if u.OnBypass() {
		need = through
	} else {
		need += f.Output
	}
	switch {
	case u.walking():
		f.Battery = float64(need * (1 - p.WalkIn))
		if !u.discharge(p, step, f.Battery) { // the rectifier has to carry all
			f.Battery = 0
		}
	case u.discharging():
		f.Battery = need
		if !u.discharge(p, step, need) { // it carries nothing
			f.Battery, f.Loss = 0, past
			if !u.OnBypass() {
				f.Output = 0
			}
		}
	case u.usable():
		f.Battery = -u.recharge(p, step)
		f.Loss -= float64(chargerLoss * f.Battery)
	default:
		u.rest(p, step)
	}
	f.Mains = f.Output + f.Loss - f.Battery
	return f
}

// carries says whether the load draws its power: not from an output that is on
// but dead for a moment.
func (u *UPS) carries() bool { return u.OutputOn() && u.deadAt == vtime.Never }

// discharging says whether the battery gives power: it carries the output, all
// or part of it, or only the unit's logic.
func (u *UPS) discharging() bool {
	return u.systemOn && (u.OnBattery() || u.walking() || !u.fed())
}

// lossPast is what a bypass loses that feeds the output.
func (u *UPS) lossPast() float64 {
	if !u.OnBypass() || !u.carries() {
		return 0
	}
	return u.past.Loss(u.load.Watts, u.cfg.RatingW)
}

// lossThrough is what the rest of the unit loses, loaded or idle.
func (u *UPS) lossThrough() float64 {
	switch {
	case !u.systemOn:
		return 0
	case !u.OutputOn() || u.OnBypass():
		return u.mains.Loss(0, u.cfg.RatingW)
	case u.OnBattery():
		return u.onBatt.Loss(u.load.Watts, u.cfg.RatingW)
	case u.direct:
		return u.static.Loss(u.load.Watts, u.cfg.RatingW)
	}
	return u.mains.Loss(u.load.Watts, u.cfg.RatingW)
}

// moveUnit moves what of the unit itself moves by dt: the heat in it, the
// overload that its parts have borne, the frequency of the inverter, and the
// share of the load that a rectifier has taken over.
func (u *UPS) moveUnit(p *Physics, f Flows, dt vtime.Tick) {
	p.UnitC = u.unitNode().Step(p.UnitC, f.Loss, p.RoomC, dt.Seconds())
	u.strain(p, dt)
	u.slew(p, dt)
	u.stride(p, dt)
}

// stride moves the share that the rectifier carries by half of dt: a step is
// taken with the share in its middle.
func (u *UPS) stride(p *Physics, dt vtime.Tick) {
	if u.walking() {
		p.WalkIn = min(1, p.WalkIn+0.5*dt.Seconds()/u.cfg.WalkIn.Seconds())
	}
}

// walking says whether the rectifier is taking the load over from the battery.
func (u *UPS) walking() bool { return u.walkUntil != vtime.Never }

// walkIn has the rectifier take the load over slowly, as a generator wants it.
func (u *UPS) walkIn(now vtime.Tick) {
	if !u.generator || u.cfg.WalkIn == 0 || !u.class.converts(u) {
		return
	}
	u.walkUntil = now + u.cfg.WalkIn
	u.Physics.WalkIn = 0
	u.upset()
	u.note("input", "the rectifier takes the load over in "+u.cfg.WalkIn.Duration().String())
}

// finishWalk ends that, on time or before.
func (u *UPS) finishWalk() {
	if u.walking() {
		u.walkUntil = vtime.Never
		u.Physics.WalkIn = 1
		u.upset()
	}
}

// onMains says whether the input feeds the output through the unit.
func (u *UPS) onMains() bool {
	switch u.source {
	case snap.SourceNormal, snap.SourceBooster, snap.SourceReducer:
		return true
	}
	return false
}
