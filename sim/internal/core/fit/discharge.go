package fit

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"ridethrough/sim/internal/phys/battery"
)

// Sample is one moment of a recorded discharge, for one cell of one string. Hours are
// since it began.
type Sample struct {
	Hours, Volts, Amps float64
	Line               int // in the file, from 1; 0 for one that was not read
}

// Guess is a figure with its standard deviation.
type Guess struct{ Value, Deviation float64 }

// Health is what a discharge says of a cell against the base that it was compared
// with: shares of its capacity and resistance at 25 degrees, and by how much its
// voltage is off, which meters and the base share.
type Health struct {
	Capacity, Resistance, OffsetV Guess
	Correlation                   float64 // of the errors of capacity and resistance
	Drawn                         float64 // share of the found capacity that was drawn
	NoiseV                        float64 // what is left, root mean square
	Alike                         float64 // how like each other residuals in a row are: 0 to 1
	Model                         []float64
	Cell                          battery.Params // the base with these shares, at 25 degrees
}

// LeastSamples is how many a discharge needs.
const LeastSamples = 5

// What is expected before anything is seen, for ln capacity, ln resistance and the
// offset in V a cell. Ours: wide for the two that are sought, narrow for meters.
var (
	healthMean      = health{-0.05, 0.1, 0}
	healthDeviation = health{0.35, 0.6, 0.008}
)

type health [3]float64

// Recorded finds what of base's capacity and resistance a cell has that was recorded
// while it was discharged from the charge at its beginning, 0 to 1, at tempC.
func Recorded(samples []Sample, base battery.Params, charge, tempC float64) (Health, error) {
	if len(samples) < LeastSamples {
		return Health{}, fmt.Errorf("%d samples of a discharge: expected at least %d", len(samples), LeastSamples)
	}
	c := course{samples, base, charge, battery.CapacityFactor(tempC), battery.ResistanceFactor(tempC)}
	const first = 0.01
	x, _, err := c.solve(first)
	if err != nil {
		return Health{}, err
	}
	noise, alike := c.left(x)
	spread := max(noise, leastNoise) * math.Sqrt((1+alike)/(1-alike))
	x, cov, err := c.solve(spread)
	if err != nil {
		return Health{}, err
	}
	h := Health{OffsetV: Guess{x[2], math.Sqrt(cov.At(2, 2))}}
	h.Capacity, h.Resistance = share(x[0], cov.At(0, 0)), share(x[1], cov.At(1, 1))
	h.Correlation = cov.At(0, 1) / math.Sqrt(cov.At(0, 0)*cov.At(1, 1))
	h.NoiseV, h.Alike = c.left(x)
	h.Model = c.volts(x)
	h.Cell = base.Scaled(h.Capacity.Value, h.Resistance.Value)
	h.Drawn = c.drawn() / (h.Cell.C * c.cold)
	return h, h.Cell.Validate()
}

// leastNoise is below what no meter of a card goes.
const leastNoise = 0.002

// share is a logarithm and its variance as a share.
func share(ln, variance float64) Guess {
	v := math.Exp(ln)
	return Guess{v, v * math.Sqrt(variance)}
}

// course is a discharge and what it is compared with.
type course struct {
	samples      []Sample
	base         battery.Params
	charge       float64
	cold, colder float64 // shares of capacity and resistance at the temperature
}

func (c *course) drawn() float64 {
	ah := float64(c.samples[0].Amps * c.samples[0].Hours)
	for i := 1; i < len(c.samples); i++ {
		a, b := &c.samples[i-1], &c.samples[i]
		ah += float64((a.Amps + b.Amps) / 2 * (b.Hours - a.Hours))
	}
	return ah
}

// volts is the voltage of the model at each sample. From one to the next the current
// is their mean. A cell that is empty before its time has a voltage that falls on, so
// that the search sees which way is out.
func (c *course) volts(x health) []float64 {
	p := c.base.Scaled(c.cold*math.Exp(x[0]), c.colder*math.Exp(x[1]))
	s := p.AtCharge(c.charge)
	out := make([]float64, len(c.samples))
	last := Sample{Amps: c.samples[0].Amps} // the discharge begins at hour 0, seen or not
	for i := range c.samples {
		next := c.samples[i]
		if next.Hours > last.Hours {
			st := p.NewStep(next.Hours - last.Hours)
			s = st.ConstantCurrent(&p, s, (last.Amps+next.Amps)/2)
		}
		last = next
		out[i] = x[2] + emptyV + min(p.Plate(s), 0)
		if v := p.Volts(s, c.samples[i].Amps); v > emptyV {
			out[i] = x[2] + v
		}
	}
	return out
}

// emptyV is a voltage below which no discharge is recorded on purpose.
const emptyV = 1.2

// residuals are those of the samples and of what was expected.
func (c *course) residuals(x health, spread float64) []float64 {
	out := c.volts(x)
	for i := range out {
		out[i] = (out[i] - c.samples[i].Volts) / spread
	}
	for k := range x {
		out = append(out, (x[k]-healthMean[k])/healthDeviation[k])
	}
	return out
}

// left is the root mean square of what the model leaves, and how alike neighbours are.
func (c *course) left(x health) (rms, alike float64) {
	v := c.volts(x)
	sum, next := 0.0, 0.0
	for i := range v {
		v[i] -= c.samples[i].Volts
		sum += float64(v[i] * v[i])
		if i > 0 {
			next += float64(v[i] * v[i-1])
		}
	}
	if sum > 0 {
		alike = math.Max(0, math.Min(next/sum, 0.95))
	}
	return math.Sqrt(sum / float64(len(v))), alike
}

var errNotFound = errors.New("the search found nothing that fits: is this the block, with this many cells and strings?")

// solve is the method of Levenberg and Marquardt; cov is the covariance at its end.
func (c *course) solve(spread float64) (x health, cov *mat.SymDense, err error) {
	x = healthMean
	r := c.residuals(x, spread)
	cost := squares(r)
	for damping := 1e-2; damping < 1e10; {
		normal, gradient := c.normal(x, r, spread)
		next, ok := moved(x, normal, gradient, damping)
		if !ok {
			damping *= 4
			continue
		}
		nextR := c.residuals(next, spread)
		if nextCost := squares(nextR); nextCost < cost {
			gain := (cost - nextCost) / cost
			x, r, cost, damping = next, nextR, nextCost, damping*0.3
			if gain > 1e-9 {
				continue
			}
			break
		}
		damping *= 4
	}
	normal, _ := c.normal(x, r, spread)
	var chol mat.Cholesky
	cov = mat.NewSymDense(len(x), nil)
	if !chol.Factorize(normal) || chol.InverseTo(cov) != nil || math.IsNaN(cost) {
		return x, nil, errNotFound
	}
	return x, cov, nil
}

// normal is J'J and J'r, by central differences.
func (c *course) normal(x health, r []float64, spread float64) (*mat.SymDense, *mat.VecDense) {
	const width = 1e-4
	j := mat.NewDense(len(r), len(x), nil)
	for k := range x {
		lo, hi := x, x
		lo[k] -= width
		hi[k] += width
		a, b := c.residuals(lo, spread), c.residuals(hi, spread)
		for i := range r {
			j.Set(i, k, (b[i]-a[i])/(2*width))
		}
	}
	normal := mat.NewSymDense(len(x), nil)
	normal.SymOuterK(1, j.T())
	gradient := mat.NewVecDense(len(x), nil)
	gradient.MulVec(j.T(), mat.NewVecDense(len(r), r))
	return normal, gradient
}

// moved is x after one damped step, no figure by more than 0.3.
func moved(x health, normal *mat.SymDense, gradient *mat.VecDense, damping float64) (health, bool) {
	damped := mat.NewSymDense(len(x), nil)
	damped.CopySym(normal)
	for k := range x {
		damped.SetSym(k, k, normal.At(k, k)*(1+damping))
	}
	var chol mat.Cholesky
	var d mat.VecDense
	if !chol.Factorize(damped) || chol.SolveVecTo(&d, gradient) != nil {
		return x, false
	}
	for k := range x {
		x[k] -= math.Max(-0.3, math.Min(0.3, d.AtVec(k)))
	}
	return x, true
}
