package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Advance moves p by dt, which is positive, all switches as they stand now. It
// changes nothing of the unit that can be seen, unless p is its own.
func (u *UPS) Advance(p *Physics, dt vtime.Tick) Flows {
	step := u.steps.ready(u.design, dt)
	u.stride(p, dt)
	f := u.flows(p, step)
	u.moveUnit(p, f, dt)
	heat := p.released/step.Hours() - f.Battery
	f.Loss += heat
	f.Battery += heat
	p.TempC = u.body.Step(p.TempC, heat, p.RoomC, dt.Seconds())
	if p.RestC != p.RoomC {
		p.RestC = u.body.Step(p.RestC, 0, p.RoomC, dt.Seconds())
	}
	p.Wear += float64(u.store.ageing * dt.Hours())
	u.observe(p, step, dt)
	if u.discharging() {
		p.RuntimeS = max(0, p.RuntimeS-dt.Seconds())
		p.TrueRuntimeS = max(0, p.TrueRuntimeS-dt.Seconds())
	}
	h := dt.Hours()
	p.MainsWh += float64(f.Mains * h)
	p.OutputWh += float64(f.Output * h)
	p.LossWh += float64(f.Loss * h)
	return f
}

// Refresh makes the readings of the battery and the estimate anew after a change
// of supply, switches or load, and says where the power goes now.
func (u *UPS) Refresh(now vtime.Tick) Flows {
	u.meetLoad()
	u.estimate(now)
	p, step := u.Physics, &u.first
	f := u.flows(&p, step)
	heat := p.released/step.Hours() - f.Battery
	f.Loss += heat
	f.Battery += heat
	u.Physics.CellAmps, u.Physics.CellVolts = p.CellAmps, p.CellVolts
	return f
}

func (u *UPS) cells() float64 { return float64(u.bat.Cells * u.bat.Strings) }

// pathBits is how many bits of the signature come before those of the power path.
const pathBits = 32

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
	bit(20, !u.store.fits(p))
	bit(22, !u.store.tuned(p))
	bit(21, u.store.charges(p))
	bit(5, u.OnBattery() && p.RuntimeS < imminent.Seconds())
	bit(23, u.holds && u.charged(p))
	return s | u.path(p)<<pathBits
}
