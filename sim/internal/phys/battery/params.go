package battery

import "math"

// MaxModes bounds the number of modes.
const MaxModes = 10

// Mode is one way in which charge is spread unevenly: its weight A (0 or more,
// no unit) and its decay Lambda in 1/h (more than 0).
type Mode struct{ A, Lambda float64 }

// Params describe one cell.
type Params struct {
	C     float64 // charge when full, Ah, at an endlessly small current
	Modes [MaxModes]Mode
	N     int     // modes in use
	E0    float64 // rested voltage when full, V
	Es    float64 // fall of the rested voltage from full to empty, V
	R     float64 // resistance, ohm
	B     float64 // overvoltage per e-fold of depletion at the plates, V
	// Open, if it has knots, is the rested voltage instead of the line that E0
	// and Es draw: for cells whose voltage hardly tells the charge.
	Open Curve
}

// ParamError says which parameter cannot be.
type ParamError string

// Error is one line for a person.
func (e ParamError) Error() string { return "battery: " + string(e) }

// Validate says what is wrong with p, as a [ParamError], or nil.
func (p *Params) Validate() error {
	switch {
	case !positive(p.C):
		return ParamError("capacity must be positive")
	case p.N < 0 || p.N > MaxModes:
		return ParamError("too many modes")
	case !positive(p.E0):
		return ParamError("rested voltage when full must be positive")
	case !notNegative(p.Es) || p.Es >= p.E0:
		return ParamError("fall of the rested voltage must be 0 or more and less than the voltage when full")
	case !notNegative(p.R):
		return ParamError("resistance must be 0 or more")
	case !notNegative(p.B):
		return ParamError("overvoltage must be 0 or more")
	}
	for _, m := range p.Modes[:p.N] {
		if !notNegative(m.A) || !positive(m.Lambda) {
			return ParamError("a mode needs a weight of 0 or more and a positive decay")
		}
	}
	return p.Open.validate()
}

func positive(x float64) bool    { return x > 0 && x <= math.MaxFloat64 }
func notNegative(x float64) bool { return x >= 0 && x <= math.MaxFloat64 }

// FromC20 is the typical block of which only the capacity is known: ah is what
// one cell gives in 20 hours to 1.75 V, in Ah. The figures are the mean of fits
// to the published discharge tables of seven families of valve-regulated
// blocks; they predict a given block's runtime to some 10 or 20 %.
func FromC20(ah float64) Params {
	return Params{
		C: float64(1.0931 * ah), N: 2,
		Modes: [MaxModes]Mode{{A: 2.0218, Lambda: 18.859}, {A: 0.76797, Lambda: 0.81058}},
		E0:    2.118, Es: 0.16415, R: 0.087686 / ah, B: 0.15490,
	}
}

// KineticFrom is the kinetic battery model with capacity c in Ah, the share of
// it in the available well (0 < share <= 1) and the rate constant kPrime in 1/h.
// Beware of sources that give the valve's constant k instead: kPrime =
// k/(share (1-share)). It has no voltage model: a cell of 2 V throughout.
func KineticFrom(c, share, kPrime float64) Params {
	return Params{C: c, N: 1, Modes: [MaxModes]Mode{{A: (1 - share) / share, Lambda: kPrime}}, E0: 2}
}

// Diffusion is the diffusion model with capacity alpha in Ah and beta in
// h^-0.5, cut at ten modes. A cell of 2 V throughout.
func Diffusion(alpha, beta float64) Params {
	p := Params{C: alpha, N: MaxModes, E0: 2}
	for i := range p.Modes {
		m := float64(i + 1)
		p.Modes[i] = Mode{A: 2, Lambda: float64(beta * beta * m * m)}
	}
	return p
}

// Scaled is p with capacity and resistance multiplied, as by temperature and
// age. Both factors are positive. A state made for p goes over with
// [Params.Carry].
func (p *Params) Scaled(capacity, resistance float64) Params {
	q := *p
	q.C = float64(q.C * capacity)
	q.R = float64(q.R * resistance)
	return q
}
