package battery

import "ridethrough/sim/internal/phys/num"

// MaxKnots bounds the number of knots of a [Curve].
const MaxKnots = 12

// Curve is a rested voltage by share of charge: straight lines through the first
// N of Knots, X the share and Y the voltage in V. The zero value is none.
type Curve struct {
	Knots [MaxKnots]num.Knot
	N     int
}

// CurveThrough is the curve through knots, of which only the first [MaxKnots]
// count. See [Params.Validate] for what they must be.
func CurveThrough(knots ...num.Knot) (c Curve) {
	c.N = copy(c.Knots[:], knots)
	return c
}

// validate wants two knots or more from share 0 to 1, rising in X and not
// falling in Y, or none.
func (c *Curve) validate() error {
	switch {
	case c.N == 0:
		return nil
	case c.N < 2 || c.N > MaxKnots:
		return ParamError("a curve of the rested voltage has 2 to 12 knots")
	case c.Knots[0].X != 0 || c.Knots[c.N-1].X != 1:
		return ParamError("a curve of the rested voltage goes from share 0 to 1")
	case !positive(c.Knots[0].Y) || !positive(c.Knots[c.N-1].Y):
		return ParamError("a rested voltage must be positive")
	}
	for i := 1; i < c.N; i++ {
		if a, b := c.Knots[i-1], c.Knots[i]; !(b.X > a.X && b.Y >= a.Y) {
			return ParamError("a curve of the rested voltage rises with the share")
		}
	}
	return nil
}

// volts stays a call, so that OpenVolts without a curve is inlined.
//
//go:noinline
func (c *Curve) volts(g float64) float64 { return num.Interpolate(c.Knots[:c.N], g) }

// area is the curve integrated from share 0 to g, 0..1, in V.
func (c *Curve) area(g float64) (sum float64) {
	for i := 1; i < c.N; i++ {
		a, b := c.Knots[i-1], c.Knots[i]
		if g <= a.X {
			break
		}
		if g < b.X {
			b = num.Knot{X: g, Y: c.volts(g)}
		}
		sum += float64(0.5 * (a.Y + b.Y) * (b.X - a.X))
	}
	return sum
}
