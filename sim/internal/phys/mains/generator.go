package mains

import "ridethrough/sim/internal/phys/num"

// Generator is the voltage and frequency of a standby generator. After its start
// both wander about their nominal value, which dies out evenly over SettleS. Its
// frequency falls with the load, as its governor has it. A step of load makes both
// fall further, as fast as the turning mass lets them, until governor and
// regulator have caught up with the time constant RecoverS:
//
//	hz    = Hz    - DroopHz y - StepHz s + WanderHz w(t)
//	volts = Volts             - StepV  s + WanderV  w(t)
//	dz/dt = (x - z)/(RecoverS/5),  dy/dt = (x - y)/RecoverS,  s = (z - y)/0.535
//
// with x the load as a share of the rating, z what the machine has felt of it, y
// what has been caught up with, and w a triangle between -1 and 1 of PeriodS times
// 1 - t/SettleS. The divisor makes StepHz and StepV the deepest point after a step
// of the rating. Common practice for the shape; figures differ from machine to
// machine.
type Generator struct {
	Volts, Hz         float64
	SettleS, PeriodS  float64 // PeriodS more than 0
	WanderV, WanderHz float64
	DroopHz, StepHz   float64
	StepV             float64
	RecoverS          float64 // more than 0
}

// Burden is the load of a generator, as shares of its rating: see [Generator].
type Burden struct{ Load, Felt, Caught float64 }

// inertia is how many times faster a machine feels a load than it catches up with
// it; deepest is the greatest exp(-t) - exp(-inertia t).
const (
	inertia = 5
	deepest = 0.5349922439811376
)

// Step is how far the machine is from having caught up: 1 at the deepest point
// after a step of its rating.
func (b Burden) Step() float64 { return (b.Felt - b.Caught) / deepest }

// At is what its terminals have sinceS seconds after voltage came, under b.
// Neither is ever below 0.
func (g *Generator) At(sinceS float64, b Burden) (volts, hz float64) {
	w, step := g.wander(sinceS), b.Step()
	volts = g.Volts - float64(g.StepV*step) + float64(g.WanderV*w)
	hz = g.Hz - float64(g.DroopHz*b.Caught) - float64(g.StepHz*step) + float64(g.WanderHz*w)
	return max(volts, 0), max(hz, 0)
}

// Bear is b after dtSeconds (0 or more) at a load.
func (g *Generator) Bear(b Burden, load, dtSeconds float64) Burden {
	follow := func(y, constant float64) float64 {
		return load + float64((y-load)*num.Exp(-dtSeconds/constant))
	}
	return Burden{Load: load, Felt: follow(b.Felt, g.RecoverS/inertia), Caught: follow(b.Caught, g.RecoverS)}
}

func (g *Generator) wander(sinceS float64) float64 {
	if sinceS >= g.SettleS {
		return 0
	}
	return float64((1 - sinceS/g.SettleS) * triangle(sinceS/g.PeriodS))
}

// triangle has the period 1 and the range -1 to 1; it starts at 0 and falls.
func triangle(x float64) float64 {
	switch x -= float64(int64(x)); {
	case x < 0.25:
		return float64(-4 * x)
	case x < 0.75:
		return float64(4*x) - 2
	}
	return 4 - float64(4*x)
}
