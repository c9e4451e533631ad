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

// Advance is p after dt more, which is positive, all switches as they stand now.
// It changes nothing of the unit that can be seen.
func (u *UPS) Advance(p Physics, dt vtime.Tick) (Physics, Flows) {
	if u.stepFor != dt {
		u.step, u.stepFor = u.cell.NewStep(dt.Hours()), dt
	}
	before := p.Cell
	f := u.flows(&p, &u.step)
	heat := u.heat((p.Cell.Q-before.Q)/dt.Hours(), &before, &p, f)
	f.Loss += heat
	f.Battery += heat
	p.TempC = u.body.Step(p.TempC, heat, u.bat.AmbientC, dt.Seconds())
	if u.discharging() {
		p.RuntimeS = max(0, p.RuntimeS-dt.Seconds())
	}
	h := dt.Hours()
	p.MainsWh += float64(f.Mains * h)
	p.OutputWh += float64(f.Output * h)
	p.LossWh += float64(f.Loss * h)
	return p, f
}

// Refresh makes the readings of the battery and the estimate anew after a change
// of supply, switches or load, and says where the power goes now.
func (u *UPS) Refresh(now vtime.Tick) Flows {
	u.estimate(now)
	p := &u.Physics
	f := u.flows(p, &u.instant)
	amps := p.CellAmps
	if amps < 0 {
		amps = -u.charger.StoredAmps(&u.cell, p.Cell)
	}
	heat := u.heat(amps, &p.Cell, p, f)
	f.Loss += heat
	f.Battery += heat
	return f
}

// flows moves the battery by step and says where the power went, without the
// heat in the battery; Battery is then the power at its terminals.
func (u *UPS) flows(p *Physics, step *battery.Step) (f Flows) {
	if u.OutputOn() {
		f.Output = u.load.Watts
	}
	switch {
	case u.discharging():
		f.Loss = u.converterLoss()
		f.Battery = f.Output + f.Loss
		u.discharge(p, step, f.Battery)
	case u.feed.Good:
		f.Loss = u.converterLoss()
		f.Battery = -u.recharge(p, step)
		f.Loss -= float64(chargerLoss * f.Battery)
		f.Mains = f.Output + f.Loss - f.Battery
	default:
		u.rest(p, step)
	}
	return f
}

// discharging says whether the battery is the only source: it carries the
// output, or only the unit's logic.
func (u *UPS) discharging() bool {
	return u.systemOn && (u.OnBattery() || !u.feed.Good)
}

func (u *UPS) converterLoss() float64 {
	switch {
	case !u.systemOn:
		return 0
	case u.OnBattery():
		return u.onBatt.Loss(u.load.Watts, u.cfg.RatingW)
	case u.OutputOn():
		return u.mains.Loss(u.load.Watts, u.cfg.RatingW)
	}
	return u.mains.Loss(0, u.cfg.RatingW)
}

func (u *UPS) cells() float64 { return float64(u.bat.Cells * u.bat.Strings) }

func (u *UPS) discharge(p *Physics, step *battery.Step, watts float64) {
	next, amps, ok := step.ConstantPower(&u.cell, p.Cell, watts/u.cells())
	if !ok { // it cannot: exhausted tells
		p.CellAmps, p.CellVolts = 0, 0
		return
	}
	p.Cell, p.CellAmps = next, amps
	p.CellVolts = u.cell.Volts(next, amps)
}

// recharge returns the watts at the battery's terminals.
func (u *UPS) recharge(p *Physics, step *battery.Step) float64 {
	if u.chargerDead {
		u.rest(p, step)
		return 0
	}
	next, amps := u.charger.Step(step, &u.cell, p.Cell)
	p.Cell, p.CellAmps = next, -amps
	p.CellVolts = u.charger.Volts(&u.cell, next, amps)
	return float64(p.CellVolts*amps) * u.cells()
}

func (u *UPS) rest(p *Physics, step *battery.Step) {
	p.Cell = step.ConstantCurrent(&u.cell, p.Cell, 0)
	p.CellAmps, p.CellVolts = 0, u.cell.Volts(p.Cell, 0)
}

// heat is what the battery turns into heat, in watts: the difference between the
// power at its terminals and the open-circuit voltage times the current that is
// drawn or stored. It does not look at the stored energy, so that the balance
// of a run is a check on it.
func (u *UPS) heat(amps float64, before *battery.State, p *Physics, f Flows) float64 {
	if p.CellAmps == 0 {
		return 0
	}
	ocv := u.cell.OpenVolts(float64((u.cell.Charge(*before) + u.cell.Charge(p.Cell)) / 2))
	return float64(float64(ocv*amps)*u.cells()) - f.Battery
}

// StoredWh is the energy left in the battery at p, in watt-hours.
func (u *UPS) StoredWh(p *Physics) float64 { return float64(u.cell.StoredWh(p.Cell) * u.cells()) }

// exhausted says whether the battery cannot carry what hangs on it.
func (u *UPS) exhausted(p *Physics) bool { return p.CellVolts <= u.bat.CutoffV }

// Signature changes its value exactly when the unit would act, or show another
// state, without any event: the engine looks for the tick of the change.
func (u *UPS) Signature(p *Physics) (s uint64) {
	bit := func(i int, on bool) {
		if on {
			s |= 1 << i
		}
	}
	bit(0, u.discharging() && u.exhausted(p))
	bit(1, u.low(p))
	bit(2, u.depleted(p))
	bit(3, u.testing() && u.test.ID == snap.TestDeepCalibration && u.calibrated(p))
	bit(4, p.TempC > hotC)
	bit(5, u.OnBattery() && p.RuntimeS < imminent.Seconds())
	return s
}
