package num

// MulAdd is a*b + c with the product rounded before the sum.
func MulAdd(a, b, c float64) float64 { return float64(a*b) + c }

// Clamp is x limited to lo..hi; NaN gives lo. It needs lo <= hi.
func Clamp(x, lo, hi float64) float64 {
	if x > hi {
		return hi
	}
	if x >= lo {
		return x
	}
	return lo
}

// Lerp is the point at share t of the way from a to b; t outside 0..1
// extrapolates. Lerp(a, b, 0) is a, Lerp(a, b, 1) is b up to one rounding.
func Lerp(a, b, t float64) float64 { return MulAdd(b-a, t, a) }

// Knot is one point of a table.
type Knot struct{ X, Y float64 }

// Interpolate is the value at x of straight lines through the knots, which must
// be sorted by rising X, at least one, no X twice. Outside the knots it keeps
// the end value.
func Interpolate(knots []Knot, x float64) float64 {
	if !(x > knots[0].X) {
		return knots[0].Y
	}
	for i := 1; i < len(knots); i++ {
		if a, b := knots[i-1], knots[i]; x < b.X {
			return Lerp(a.Y, b.Y, (x-a.X)/(b.X-a.X))
		}
	}
	return knots[len(knots)-1].Y
}

// LogLog is the value at x of the power law through a and b:
// y = ya (x/xa)^(ln(yb/ya)/ln(xb/xa)). All coordinates and x are positive and
// a.X differs from b.X. It is the usual way to read a runtime between two
// columns of a discharge table.
func LogLog(a, b Knot, x float64) float64 {
	slope := Log(b.Y/a.Y) / Log(b.X/a.X)
	return float64(a.Y * Pow(x/a.X, slope))
}
