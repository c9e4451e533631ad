package battery

import "ridethrough/sim/internal/phys/num"

// Charger holds a constant current, then a constant voltage. The current that
// a cell accepts is
//
//	min(MaxA, (SetV - OpenVolts(g))/Rc + FloatA)
//	Rc = R + (Resists / C) / (1 - g + 0.02)^1.2
//
// with Resists = 0.40 V h, which follows a datasheet's chart of a charge at 0.1 C to 2.25 V per cell within
// reading error. The exponent is that of the charge equation of Copetti,
// Lorenzo and Chenlo (1993). Typical: SetV 2.25 to 2.30 at 25 C, Efficiency 0.97,
// FloatA 1 to 4 mA per Ah.
type Charger struct {
	SetV       float64 // V per cell, see [FloatVolts] for its temperature
	MaxA       float64 // A per string
	Efficiency float64 // share of the charge accepted above the float current that is stored, 0..1
	FloatA     float64 // A per string that flow at any charge and are lost
	// Resists says how strongly a cell opposes its charge, in V h; 0 is 0.40, that
	// of lead-acid. A cell of lithium iron phosphate takes nearly the full current to
	// its end: [LithiumResists].
	Resists float64
}

// LithiumResists is Resists of a cell of lithium iron phosphate.
const LithiumResists = 0.004 // V h, from memory

const (
	leadResists    = 0.40 // V h
	acceptanceEdge = 0.02
	acceptancePow  = 1.2
)

// Amps is the current that a cell in state s takes, 0 or more. When full it is
// the float current.
func (c *Charger) Amps(p *Params, s State) float64 {
	return num.Clamp(c.accepted(p, &s)+c.FloatA, 0, c.MaxA)
}

// StoredAmps is the part of that which charges the cell, 0 when full: what
// [Step.ConstantCurrent] is to be given, with its sign turned.
func (c *Charger) StoredAmps(p *Params, s State) float64 {
	return float64(c.Efficiency * min(c.accepted(p, &s), c.MaxA))
}

// accepted is what the voltage drives into the cell without the float current.
func (c *Charger) accepted(p *Params, s *State) float64 {
	g := p.charge(s)
	if g >= 1 {
		return 0
	}
	return max(c.SetV-p.OpenVolts(g), 0) / c.ohms(p, g)
}

// Volts is the terminal voltage while the charger drives amps as [Charger.Amps]
// gave them: rising at constant current, SetV after.
func (c *Charger) Volts(p *Params, s State, amps float64) float64 {
	g := p.charge(&s)
	open := p.OpenVolts(g)
	if amps < c.MaxA {
		return max(c.SetV, open)
	}
	rise := amps * c.ohms(p, g)
	return max(min(open+float64(rise), c.SetV), open)
}

// Step is the state after st on this charger and the mean current taken from
// it. A full cell stays full.
func (c *Charger) Step(st *Step, p *Params, s State) (next State, amps float64) {
	middle := s
	st.half.advance(p, &middle, -c.StoredAmps(p, s))
	st.full.advance(p, &s, -c.StoredAmps(p, middle))
	return s, c.Amps(p, middle)
}

// ohms is Rc.
func (c *Charger) ohms(p *Params, g float64) float64 {
	resists := c.Resists
	if resists == 0 {
		resists = leadResists
	}
	return p.R + resists/p.C/num.Pow(1-g+acceptanceEdge, acceptancePow)
}
