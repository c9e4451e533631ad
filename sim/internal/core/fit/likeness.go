package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ridethrough/sim/internal/phys/battery"
)

// Likeness says how alike the errors of two rows of one mode are that a cell
// leaves: what lies off for 2 hours to 1.75 V lies off for 2 hours to 1.70 V as
// well, for the maker measured, smoothed and rounded both at once. The
// correlation is
//
//	exp(-|ln t1/t2| / Time - |d1 - d2| / Depth) / (1 + Own)
//
// where t is the cell's runtime and d how many e-folds of it the end voltage
// cuts off, counted from 1.60 V: volts mean little in ten hours and much in ten
// minutes. Own is the variance of a row alone against what is shared. A Time of
// 0 is no likeness at all.
type Likeness struct{ Time, Depth, Own float64 }

// place is where a row stands for a Likeness.
type place struct {
	mode      Mode
	ln, depth float64
}

// deepest is the end voltage from which the depth counts, V.
const deepest = 1.60

func placeOf(p *battery.Params, r Row) place {
	ln := lnMinutes(p, r)
	deep := r
	deep.EndV = min(r.EndV, deepest)
	return place{r.Mode, ln, lnMinutes(p, deep) - ln}
}

// shared is the part of the variance that two rows share.
func (l Likeness) shared(a, b place) float64 {
	if a.mode != b.mode {
		return 0
	}
	return math.Exp(-math.Abs(a.ln-b.ln)/l.Time - math.Abs(a.depth-b.depth)/l.Depth)
}

// correlations of rows at places, factored. It is positive definite as long as
// Own is.
func (l Likeness) correlations(at []place) *mat.Cholesky {
	k := mat.NewSymDense(len(at), nil)
	for i := range at {
		for j := range i {
			k.SetSym(i, j, l.shared(at[i], at[j])/(1+l.Own))
		}
		k.SetSym(i, i, 1)
	}
	var c mat.Cholesky
	if !c.Factorize(k) {
		return nil
	}
	return &c
}

// related goes on from x, which was found as if rows were independent, with
// errors that are alike. Places move with the cell: twice is enough.
func related(rows []Row, c20 float64, prior Prior, x vector) (vector, int) {
	const rounds = 2
	total := 0
	for range rounds {
		p := cell(x, c20)
		like := prior.Alike.correlations(places(&p, rows))
		if like == nil {
			return x, total
		}
		var lower mat.TriDense
		like.LTo(&lower)
		next, steps := minimise(func(x vector) []float64 { return whitened(&lower, residuals(rows, c20, prior, x), len(rows)) }, x)
		x, total = next, total+steps
	}
	return x, total
}

// whitened is r with its first n errors turned into independent ones.
func whitened(lower *mat.TriDense, r []float64, n int) []float64 {
	for i := range n {
		for j := range i {
			r[i] -= float64(lower.At(i, j) * r[j])
		}
		r[i] /= lower.At(i, i)
	}
	return r
}

func places(p *battery.Params, rows []Row) []place {
	at := make([]place, len(rows))
	for i, r := range rows {
		at[i] = placeOf(p, r)
	}
	return at
}

// Neighbours correct the runtime of a cell by the errors that it leaves in the
// rows around (simple kriging of ln t, with the cell's runtime for the mean).
type Neighbours struct {
	cell  battery.Params
	like  Likeness
	at    []place
	pulls []float64
}

// NewNeighbours takes the errors of p in rows. It is of no effect without a
// likeness or rows.
func NewNeighbours(p *battery.Params, rows []Row, like Likeness) *Neighbours {
	n := &Neighbours{cell: *p, like: like}
	if !(like.Time > 0 && like.Depth > 0 && like.Own > 0) || len(rows) == 0 {
		return n
	}
	at := places(p, rows)
	c := like.correlations(at)
	if c == nil {
		return n
	}
	off := mat.NewVecDense(len(rows), nil)
	for i, r := range rows {
		off.SetVec(i, at[i].ln-math.Log(r.Minutes))
	}
	var pulls mat.VecDense
	if c.SolveVecTo(&pulls, off) != nil {
		return n
	}
	n.at = at
	for i := range rows {
		n.pulls = append(n.pulls, pulls.AtVec(i)/(1+like.Own))
	}
	return n
}

// Minutes is how long the load of r is carried to its end voltage; r.Minutes is
// not looked at. It is 0 if the cell cannot carry the load.
func (n *Neighbours) Minutes(r Row) float64 {
	t := minutes(&n.cell, r)
	if t <= 0 {
		return 0
	}
	here := placeOf(&n.cell, r)
	off := 0.0
	for i, p := range n.at {
		off += float64(n.pulls[i] * n.like.shared(p, here))
	}
	return t * math.Exp(-off)
}

// Check is what the corrected cell makes of rows, in their order.
func (n *Neighbours) Check(rows []Row) []Residual {
	out := make([]Residual, len(rows))
	for i, r := range rows {
		t := n.Minutes(r)
		out[i] = Residual{Row: r, ModelMinutes: t, Error: t/r.Minutes - 1}
	}
	return out
}
