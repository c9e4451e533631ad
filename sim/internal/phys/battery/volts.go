package battery

import (
	"math"

	"ridethrough/sim/internal/phys/num"
)

const (
	// least is the share of charge that counts as none, left or at the plates. It
	// keeps the depletion ratio y/g away from 0/0 and its logarithm from ln 0.
	least = 1e-9
	// surfaceCharge bounds y/g from above, where a nearly empty cell has just
	// been charged fast; there the model has no data.
	surfaceCharge = 20
)

// OpenVolts is the voltage after a long rest at share g of charge:
// E0 - Es (1-g), or what the curve Open says.
func (p *Params) OpenVolts(g float64) float64 {
	if p.Open.N > 0 {
		return p.Open.volts(g)
	}
	return p.E0 - float64(p.Es*(1-g))
}

// Volts is the terminal voltage at a current in A, positive while discharging,
// never below 0. While a charger is at work ask [Charger.Volts] instead: this
// one knows no overvoltage of gassing.
func (p *Params) Volts(s State, amps float64) float64 {
	at := p.levels(&s)
	if amps > 0 && at.plate <= 0 {
		return 0
	}
	return max(p.emf(at)-float64(p.R*amps), 0)
}

// AmpsForPower is the current that carries watts at the terminals. It is false
// if the cell cannot: nothing at the plates, or more than R lets through.
// Negative watts give the charging current that takes them up.
func (p *Params) AmpsForPower(s State, watts float64) (amps float64, ok bool) {
	amps, _, ok = p.feed(p.levels(&s), draw{power, watts})
	return amps, ok
}

// AmpsForResistance is the current through a load of ohms (more than 0) at the
// terminals, false if nothing is at the plates.
func (p *Params) AmpsForResistance(s State, ohms float64) (amps float64, ok bool) {
	amps, _, ok = p.feed(p.levels(&s), draw{resistance, ohms})
	return amps, ok
}

// levels are what the voltage depends on: the charge left, 0 to C, and that at
// the plates, in Ah.
type levels struct{ left, plate float64 }

func (p *Params) levels(s *State) levels {
	return levels{num.Clamp(p.C-s.Q, 0, p.C), p.C - p.bound(s)}
}

// emf is A, the voltage behind the resistance.
func (p *Params) emf(at levels) float64 {
	if p.B == 0 {
		return p.OpenVolts(at.left / p.C)
	}
	return p.emfAt(at, num.Log(p.depletion(at)))
}

// emfAt is emf where the logarithm of the depletion is known.
func (p *Params) emfAt(at levels, ln float64) float64 {
	return p.OpenVolts(at.left/p.C) + float64(p.B*ln)
}

// depletion is y/g, the share at the plates over the share left.
func (p *Params) depletion(at levels) float64 {
	nothing := least * p.C
	return num.Clamp((at.plate+float64(nothing))/(at.left+float64(nothing)), least, surfaceCharge)
}

// draw is a load that stays constant: amperes, watts or ohms.
type draw struct {
	kind  drawKind
	value float64
}

type drawKind uint8

const (
	current drawKind = iota
	power
	resistance
)

// feed is the current that d draws and the terminal voltage then. Its false
// means that the cell cannot.
func (p *Params) feed(at levels, d draw) (amps, volts float64, ok bool) {
	if p.bare(at) && d.value > 0 {
		return 0, 0, false
	}
	a := p.emf(at)
	amps, ok = p.ampsFrom(a, d)
	return amps, a - float64(p.R*amps), ok
}

// bare says that nothing is left, or nothing at the plates.
func (p *Params) bare(at levels) bool { return min(at.plate, at.left) <= least*p.C }

// ampsFrom is the current that d draws from a voltage a behind the resistance.
func (p *Params) ampsFrom(a float64, d draw) (amps float64, ok bool) {
	switch {
	case d.kind == current:
		return d.value, true
	case a <= 0:
		return 0, d.value == 0 && d.kind == power
	case d.kind == resistance:
		return a / (p.R + d.value), true
	}
	// (a - sqrt(a^2 - 4RP)) / 2R, written so that R may be 0.
	root := float64(a*a) - float64(4*p.R*d.value)
	if root < 0 {
		return 0, false
	}
	return 2 * d.value / (a + math.Sqrt(root)), true
}
