package fit_test

import (
	"math"
	"testing"

	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/phys/battery"
)

// crooked is what the typical cell of 7 Ah does at two times, one of them a
// tenth off.
func crooked() (battery.Params, []fit.Row) {
	p := battery.FromC20(7)
	var rows []fit.Row
	for _, r := range []fit.Row{{EndV: 1.60, Load: 20}, {EndV: 1.75, Load: 20}, {EndV: 1.75, Load: 2}} {
		r.Mode = fit.ConstantPower
		r.Minutes = 60 * p.Runtime(p.AtCharge(1), r.Load, r.EndV)
		if r.Load == 2 {
			r.Minutes /= 1.1
		}
		rows = append(rows, r)
	}
	return p, rows
}

func TestNeighboursPullWhatIsNear(t *testing.T) {
	p, rows := crooked()
	near := fit.NewNeighbours(&p, rows, fit.Likeness{Time: 0.35, Depth: 0.15, Own: 0.3})
	pull := func(r fit.Row) float64 {
		r.Minutes = 1
		return near.Minutes(r) / fit.Check(&p, []fit.Row{r})[0].ModelMinutes
	}
	at := func(mode fit.Mode, endV, load float64) float64 {
		return pull(fit.Row{Mode: mode, EndV: endV, Load: load})
	}
	itself := at(fit.ConstantPower, 1.75, 2)
	// The share of the error that is not the row's own.
	if want := math.Exp(-math.Log(1.1) / 1.3); math.Abs(itself-want) > 0.001 {
		t.Errorf("at the row itself %.4f, want %.4f", itself, want)
	}
	beside, later := at(fit.ConstantPower, 1.70, 2), at(fit.ConstantPower, 1.75, 1.6)
	if !(itself < beside && beside < 0.96) || !(beside < later && later < 0.999) {
		t.Errorf("itself %.4f, to 1.70 V %.4f, at 1.6 W %.4f", itself, beside, later)
	}
	for name, got := range map[string]float64{
		"far away":       at(fit.ConstantPower, 1.75, 20),
		"the other mode": at(fit.ConstantCurrent, 1.75, 1),
	} {
		if math.Abs(got-1) > 1e-3 {
			t.Errorf("%s: %.4f", name, got)
		}
	}
	if got := near.Minutes(fit.Row{Mode: fit.ConstantPower, EndV: 1.75, Load: 500}); got != 0 {
		t.Errorf("500 W for %v min", got)
	}
}

func TestNeighboursOfNoLikeness(t *testing.T) {
	p, rows := crooked()
	for name, n := range map[string]*fit.Neighbours{
		"none":    fit.NewNeighbours(&p, rows, fit.Likeness{}),
		"no rows": fit.NewNeighbours(&p, nil, fit.FewRows().Alike),
	} {
		for i, r := range n.Check(rows) {
			if want := fit.Check(&p, rows)[i]; r != want {
				t.Errorf("%s: %+v, want %+v", name, r, want)
			}
		}
	}
}

// The time of the row that is asked for must not matter.
func TestNeighboursDoNotPeek(t *testing.T) {
	p, rows := crooked()
	n := fit.NewNeighbours(&p, rows, fit.FewRows().Alike)
	r := fit.Row{Mode: fit.ConstantPower, EndV: 1.70, Load: 3}
	first := n.Minutes(r)
	r.Minutes = 1e4
	if again := n.Minutes(r); again != first {
		t.Errorf("%v and %v minutes", first, again)
	}
}

// Two rows of one column off by the same pull a cell less than two that have
// nothing to do with each other.
func TestAlikeRowsCountForLess(t *testing.T) {
	p := battery.FromC20(7)
	var rows []fit.Row
	for _, endV := range []float64{1.60, 1.65, 1.70, 1.75} {
		rows = append(rows, fit.Row{Mode: fit.ConstantPower, EndV: endV, Load: 1, Minutes: 66 * p.Runtime(p.AtCharge(1), 1, endV)})
	}
	left := func(prior fit.Prior) float64 {
		r, err := fit.Fit(rows, 7, prior)
		if err != nil {
			t.Fatal(err)
		}
		return math.Abs(fit.Summarise(r.Residuals).Median)
	}
	alike := fit.FewRows()
	if free, held := left(fit.Population(alike.Weight)), left(alike); !(held > 1.3*free) {
		t.Errorf("left %.4f as independent rows, %.4f as alike", free, held)
	}
}
