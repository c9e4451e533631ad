package fit

import (
	"errors"
	"math"
	"slices"

	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/num"
)

// unknowns is the number of figures of a two-mode cell.
const unknowns = 9

// Places of some of them.
const (
	capacity   = 0
	voltage    = 5
	resistance = 7
)

// vector is the figures of a cell as the fit sees them, in the order of the
// package documentation.
type vector [unknowns]float64

// Prior is where the figures of a block are expected, before its table is seen.
// Weight is what a deviation counts against one e-fold of runtime: 0.03 for a
// dozen rows, 0.02 for a whole table. Alike is how alike the errors of rows are.
type Prior struct {
	Mean, Deviation vector
	Weight          float64
	Alike           Likeness
}

// Population is the prior from fits to the tables of seven families of
// valve-regulated blocks. The mean is [battery.FromC20].
func Population(weight float64) Prior {
	return Prior{
		Mean:      vector{0.089, 0.704, -0.264, 2.937, -0.210, 2.118, -1.807, -2.434, -1.865},
		Deviation: vector{0.03, 0.654, 0.368, 0.655, 0.48, 0.058, 0.396, 0.258, 0.547},
		Weight:    weight,
	}
}

// FewRows is the prior for a dozen rows of a table. Whole tables gave the
// likeness (docs/physics/fit-report.md).
func FewRows() Prior {
	p := Population(0.035)
	p.Alike = Likeness{Time: 0.35, Depth: 0.15, Own: 0.5}
	return p
}

// Residual is a row and what the cell makes of it. Error is model/table - 1.
type Residual struct {
	Row
	ModelMinutes, Error float64
}

// Result is a fitted cell, the rows it was fitted to, and the steps of the search.
type Result struct {
	Params    battery.Params
	Residuals []Residual
	Steps     int
}

// Fit finds the cell with a 20-hour capacity of about c20 Ah that carries rows
// best.
func Fit(rows []Row, c20 float64, prior Prior) (Result, error) {
	if len(rows) == 0 {
		return Result{}, errors.New("no rows to fit")
	}
	if !(c20 > 0 && c20 < 1e9) {
		return Result{}, errors.New("the 20-hour capacity must be positive")
	}
	x, steps := search(func(x vector) []float64 { return residuals(rows, c20, prior, x) }, prior)
	if prior.Alike.Time > 0 {
		next, more := related(rows, c20, prior, x)
		x, steps = next, steps+more
	}
	p := cell(x, c20)
	if err := p.Validate(); err != nil {
		return Result{}, err
	}
	return Result{Params: p, Residuals: Check(&p, rows), Steps: steps}, nil
}

// Check is what the cell p makes of rows, in their order.
func Check(p *battery.Params, rows []Row) []Residual {
	out := make([]Residual, len(rows))
	for i, r := range rows {
		t := minutes(p, r)
		out[i] = Residual{Row: r, ModelMinutes: t, Error: t/r.Minutes - 1}
	}
	return out
}

// Summary are the median, the 90th percentile and the largest of absolute
// errors.
type Summary struct{ Median, P90, Worst float64 }

// Summarise is the summary of at least one residual.
func Summarise(residuals []Residual) Summary {
	errs := make([]float64, len(residuals))
	for i, r := range residuals {
		errs[i] = math.Abs(r.Error)
	}
	slices.Sort(errs)
	at := func(share float64) float64 {
		place := float64(share * float64(len(errs)-1))
		i := int(place)
		j := min(i+1, len(errs)-1)
		return num.Lerp(errs[i], errs[j], place-float64(i))
	}
	return Summary{Median: at(0.5), P90: at(0.9), Worst: at(1)}
}

// cell turns the figures into parameters.
func cell(x vector, c20 float64) battery.Params {
	return battery.Params{
		C: c20 * math.Exp(x[0]), N: 2,
		Modes: [battery.MaxModes]battery.Mode{
			{A: math.Exp(x[1]), Lambda: math.Exp(x[3])},
			{A: math.Exp(x[2]), Lambda: math.Exp(x[4])},
		},
		E0: x[5], Es: math.Exp(x[6]), R: math.Exp(x[7]) / c20, B: math.Exp(x[8]),
	}
}

const (
	// limit bounds the residual of a row, in e-folds.
	limit = 3
	// least is what a runtime of none counts as, in minutes, for its logarithm.
	least = 1e-9
)

// residuals are what the search makes small.
func residuals(rows []Row, c20 float64, prior Prior, x vector) []float64 {
	p := cell(x, c20)
	out := make([]float64, 0, len(rows)+unknowns)
	for _, r := range rows {
		t := max(minutes(&p, r), least)
		out = append(out, min(max(math.Log(t/r.Minutes), -limit), limit))
	}
	for i := range x {
		out = append(out, prior.Weight*(x[i]-prior.Mean[i])/prior.Deviation[i])
	}
	return out
}

func minutes(p *battery.Params, r Row) float64 {
	full := p.AtCharge(1)
	if r.Mode == ConstantPower {
		return 60 * p.Runtime(full, r.Load, r.EndV)
	}
	return 60 * p.RuntimeAtCurrent(full, r.Load, r.EndV)
}

func lnMinutes(p *battery.Params, r Row) float64 { return math.Log(max(minutes(p, r), least)) }
