package vary

import (
	"math"
	"slices"

	"ridethrough/sim/internal/phys/num"
)

// Kind is a family of distributions.
type Kind string

// Kinds. docs/study.md has their parameters.
const (
	Uniformly   Kind = "uniform"
	Normal      Kind = "normal"
	Lognormal   Kind = "lognormal"
	Triangular  Kind = "triangular"
	Exponential Kind = "exponential"
	Weibull     Kind = "weibull"
	Empirical   Kind = "empirical"
	Choice      Kind = "choice"
	Grid        Kind = "grid"
	Constant    Kind = "constant"
)

// Kinds lists them in the order of the documentation.
func Kinds() []Kind {
	return []Kind{Uniformly, Triangular, Normal, Lognormal, Exponential, Weibull, Empirical, Choice, Grid, Constant}
}

// Distribution is one distribution. Numbers are in the unit of the quantity.
type Distribution struct {
	Kind Kind
	// A, B and C are: uniform from A to B; triangular from A over the mode B to C;
	// normal mean A, standard deviation B; lognormal median A, standard deviation B of
	// the logarithm; exponential mean A; weibull shape A, scale B.
	A, B, C float64
	// Values of empirical (ascending), choice, grid and constant.
	Values  []float64
	Weights []float64 // of choice; nil: equal
	Stride  int       // of grid: runs with the same value in a row
	// Low and High cut off what normal, lognormal, exponential and weibull have
	// beyond them: the rest is drawn as if it were all.
	Low, High float64

	from, to float64 // shares of the uncut distribution
}

// Prepare works out what draws need. It returns false if nothing is left between
// Low and High.
func (d *Distribution) Prepare() bool {
	d.from, d.to = 0, 1
	if d.Cut() {
		d.from, d.to = d.share(d.Low), d.share(d.High)
	}
	slices.Sort(d.sorted())
	return d.to > d.from
}

// sorted is the values that stand in no order of their own.
func (d *Distribution) sorted() []float64 {
	if d.Kind == Empirical {
		return d.Values
	}
	return nil
}

// Cut says whether Low and High mean something for d.
func (d *Distribution) Cut() bool {
	switch d.Kind {
	case Normal, Lognormal, Exponential, Weibull:
		return true
	}
	return false
}

// share is how much of the uncut distribution lies below x.
func (d *Distribution) share(x float64) float64 {
	if math.IsInf(x, 1) {
		return 1
	}
	if d.Kind == Normal {
		return NormalShare((x - d.A) / d.B)
	}
	if x <= 0 {
		return 0
	}
	switch d.Kind {
	case Lognormal:
		return NormalShare(num.Log(x/d.A) / d.B)
	case Exponential:
		return -num.Expm1(-x / d.A)
	}
	return -num.Expm1(-num.Pow(x/d.B, d.A))
}

// At is the value of run, with u as its uniform number. A grid does not look at u.
func (d *Distribution) At(run int, u float64) float64 {
	switch d.Kind {
	case Constant:
		return d.Values[0]
	case Grid:
		return d.Values[run/max(d.Stride, 1)%len(d.Values)]
	}
	return d.Quantile(u)
}

// Quantile is the value below which a share u of the distribution lies, 0 < u < 1.
// It rises with u, but for a choice, which goes through its values in their order,
// and a grid, of which it is one.
func (d *Distribution) Quantile(u float64) float64 {
	switch d.Kind {
	case Uniformly:
		return d.A + float64(u*(d.B-d.A))
	case Triangular:
		return d.triangular(u)
	case Empirical:
		return d.between(u)
	case Choice:
		return d.Values[d.Picked(u)]
	case Grid, Constant:
		return d.Values[min(int(u*float64(len(d.Values))), len(d.Values)-1)]
	}
	x := d.uncut(min(max(d.from+float64(u*(d.to-d.from)), tiniest), 1-0x1p-53))
	return min(max(x, d.Low), d.High)
}

// tiniest keeps shares off 0.
const tiniest = 0x1p-1000

func (d *Distribution) uncut(u float64) float64 {
	switch d.Kind {
	case Normal:
		return d.A + float64(d.B*NormalQuantile(u))
	case Lognormal:
		return d.A * num.Exp(d.B*NormalQuantile(u))
	}
	e := -log1m(u)
	if d.Kind == Exponential {
		return d.A * e
	}
	return d.B * num.Pow(e, 1/d.A)
}

// log1m is ln(1-u), good for small u too.
func log1m(u float64) float64 {
	if u > 1e-5 {
		return num.Log(1 - u)
	}
	return -float64(u * (1 + float64(u*(0.5+float64(u/3)))))
}

func (d *Distribution) triangular(u float64) float64 {
	span := d.C - d.A
	if span == 0 {
		return d.A
	}
	rise := (d.B - d.A) / span
	if u < rise {
		return d.A + math.Sqrt(float64(u*span)*(d.B-d.A))
	}
	return d.C - math.Sqrt(float64((1-u)*span)*(d.C-d.B))
}

// between is the quantile of a sample by linear interpolation: definition 7 of
// R. J. Hyndman and Y. Fan, The American Statistician 50 (1996) 361-365.
func (d *Distribution) between(u float64) float64 {
	return Sample(d.Values, u)
}

// Sample is the quantile u, from 0 to 1, of ascending values, by the same
// definition. It needs at least one value.
func Sample(sorted []float64, u float64) float64 {
	h := float64(u * float64(len(sorted)-1))
	i := min(int(h), len(sorted)-1)
	if i+1 >= len(sorted) {
		return sorted[i]
	}
	return sorted[i] + float64((h-float64(i))*(sorted[i+1]-sorted[i]))
}

// Picked is the index of the value that a choice comes to.
func (d *Distribution) Picked(u float64) int {
	if d.Weights == nil {
		return min(int(u*float64(len(d.Values))), len(d.Values)-1)
	}
	total := 0.0
	for _, w := range d.Weights {
		total += w
	}
	left := float64(u * total)
	last := 0
	for i, w := range d.Weights {
		if w <= 0 {
			continue
		}
		if last = i; left < w {
			return i
		}
		left -= w
	}
	return last
}
