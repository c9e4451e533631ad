package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// minimise finds x near start with the least sum of squares of f, by the method
// of Levenberg and Marquardt: Gauss-Newton steps, held back by a damping that
// falls after a success and rises after a failure. It stops when a step gains
// nothing, and gives the number of accepted steps.
func minimise(f func(vector) []float64, start vector) (x vector, steps int) {
	const (
		most    = 200
		enough  = 1e-9 // relative gain
		damped  = 1e10 // damping at which no step will help
		softer  = 0.3
		harder  = 4.0
		initial = 1e-2
	)
	x = start
	r := f(x)
	cost := squares(r)
	for damping := initial; steps < most && damping < damped; {
		slope := jacobian(f, x, len(r))
		gained := 0.0
		for ; damping < damped; damping *= harder {
			next := x.plus(step(slope, r, damping))
			nextR := f(next)
			if c := squares(nextR); c < cost {
				gained = (cost - c) / cost
				x, r, cost = next, nextR, c
				steps++
				damping *= softer
				break
			}
		}
		if gained < enough {
			break
		}
	}
	return x, steps
}

// search is minimise from the prior's mean. Where that ends with a row that the
// cell cannot carry at all, whose residual is at its limit and shows no way out,
// it starts again from a stronger cell: more capacity, a higher voltage, less
// resistance. More starts find nothing better on the tables of testdata: thirty
// at random, a deviation off the mean each, led to the same cells.
func search(f func(vector) []float64, prior Prior) (best vector, steps int) {
	best, steps = minimise(f, prior.Mean)
	left := f(best)
	if !slices.ContainsFunc(left, func(r float64) bool { return math.Abs(r) >= limit }) {
		return best, steps
	}
	strong := prior.Mean
	strong[capacity] += prior.Deviation[capacity]
	strong[voltage] += float64(1.5 * prior.Deviation[voltage])
	strong[resistance] -= prior.Deviation[resistance]
	other, n := minimise(f, strong)
	if squares(f(other)) < squares(left) {
		best = other
	}
	return best, steps + n
}

// jacobian is the derivative of f, n residuals, by central differences. The
// width is well above the noise of a runtime's last step.
func jacobian(f func(vector) []float64, x vector, n int) *mat.Dense {
	const width = 1e-3
	j := mat.NewDense(n, unknowns, nil)
	for k := range x {
		lo, hi := x, x
		lo[k] -= width
		hi[k] += width
		a, b := f(lo), f(hi)
		for i := range n {
			j.Set(i, k, (b[i]-a[i])/(2*width))
		}
	}
	return j
}

// step solves (J'J + damping diag J'J) d = -J'r. The prior makes J'J positive
// definite; a failure all the same gives no step.
func step(j *mat.Dense, r []float64, damping float64) (d vector) {
	var normal mat.SymDense
	normal.SymOuterK(1, j.T())
	for k := range unknowns {
		normal.SetSym(k, k, normal.At(k, k)*(1+damping))
	}
	var gradient, solution mat.VecDense
	gradient.MulVec(j.T(), mat.NewVecDense(len(r), r))
	var chol mat.Cholesky
	if !chol.Factorize(&normal) || chol.SolveVecTo(&solution, &gradient) != nil {
		return d
	}
	for k := range d {
		d[k] = -solution.AtVec(k)
	}
	return d
}

// plus is x moved by d, no figure by more than 1: beyond that the slope says
// nothing.
func (x vector) plus(d vector) vector {
	for k := range x {
		x[k] += math.Max(-1, math.Min(1, d[k]))
	}
	return x
}

func squares(r []float64) (sum float64) {
	for _, v := range r {
		sum += float64(v * v)
	}
	return sum
}
