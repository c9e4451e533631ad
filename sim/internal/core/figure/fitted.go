package figure

import (
	"cmp"
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/phys/battery"
)

// shownVolts is how many end voltages of a table are drawn, so that they can
// still be told apart.
const shownVolts = 4

// FitChart is a discharge table against the cell fitted to it: what is delivered
// by the end voltage against the time that it takes, a curve and its points for
// each end voltage. It shows power if the table has as many rows of power as of
// current. Loads against time would lie on one line, whatever the fit.
func FitChart(title string, p *battery.Params, rows []fit.Row) Chart {
	rows, mode := oneMode(rows)
	sum := fit.Summarise(fit.Check(p, rows))
	c := Chart{
		Title: title + ": table (points) against fitted cell (curves)",
		Subtitle: fmt.Sprintf("%d rows of %s; error of the runtime: median %.1f %%, 90th percentile %.1f %%, worst %.1f %%",
			len(rows), words(mode), 100*sum.Median, 100*sum.P90, 100*sum.Worst),
		X:         Minutes(0.8*slices.MinFunc(rows, byMinutes).Minutes, 1.25*slices.MaxFunc(rows, byMinutes).Minutes),
		Y:         Axis{Label: "Energy delivered, Wh a cell"},
		LegendTop: true, LegendLeft: true,
	}
	if mode == fit.ConstantCurrent {
		c.Y.Label = "Charge delivered, Ah"
	}
	ends := endVoltages(rows)
	for i, endV := range ends {
		colour := Family + i*(FamilySize-1)/max(len(ends)-1, 1)
		curve := c.X.curve(80, func(minutes float64) float64 {
			return carried(p, mode, minutes/60, endV) * minutes / 60
		})
		table := tablePoints(rows, endV)
		c.Series = append(c.Series,
			Series{Name: fmt.Sprintf("to %.4g V a cell", endV), Points: curve, Colour: colour},
			Series{Points: table, Mark: Dots, Colour: colour})
		c.Y.include(curve)
		c.Y.include(table)
	}
	return c
}

func words(m fit.Mode) string {
	if m == fit.ConstantPower {
		return "constant power"
	}
	return "constant current"
}

// include widens an axis from 0 to what points need.
func (a *Axis) include(points []XY) {
	for _, q := range points {
		a.Max = max(a.Max, 1.05*q.Y)
	}
}

func oneMode(rows []fit.Row) ([]fit.Row, fit.Mode) {
	amps, watts := fit.Of(rows, fit.ConstantCurrent, 0, 3), fit.Of(rows, fit.ConstantPower, 0, 3)
	if len(watts) >= len(amps) {
		return watts, fit.ConstantPower
	}
	return amps, fit.ConstantCurrent
}

func byMinutes(a, b fit.Row) int { return cmp.Compare(a.Minutes, b.Minutes) }

// endVoltages are those of rows, thinned out to the lowest, the highest and some
// between.
func endVoltages(rows []fit.Row) []float64 {
	var all []float64
	for _, r := range rows {
		all = append(all, r.EndV)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	if len(all) <= shownVolts {
		return all
	}
	var some []float64
	for i := range shownVolts {
		some = append(some, all[i*(len(all)-1)/(shownVolts-1)])
	}
	return some
}

func tablePoints(rows []fit.Row, endV float64) (points []XY) {
	for _, r := range rows {
		if r.EndV == endV {
			points = append(points, XY{r.Minutes, r.Load * r.Minutes / 60})
		}
	}
	return points
}

// carried is the largest load that lasts for hours, by halving.
func carried(p *battery.Params, mode fit.Mode, hours, endV float64) float64 {
	full := p.AtCharge(1)
	lasts, hi := p.RuntimeAtCurrent, 2*p.C/hours
	if mode == fit.ConstantPower {
		lasts, hi = p.Runtime, 2*p.E0*hi
	}
	lo := 0.0
	for range 40 {
		if mid := (lo + hi) / 2; lasts(full, mid, endV) > hours {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
