package fit

import (
	"math"
	"slices"
)

// Of are the rows of one mode with end voltages from lowV to highV.
func Of(rows []Row, mode Mode, lowV, highV float64) []Row {
	var out []Row
	for _, r := range rows {
		if r.Mode == mode && r.EndV >= lowV-1e-9 && r.EndV <= highV+1e-9 {
			out = append(out, r)
		}
	}
	return out
}

// TwelvePoints are the rows, all of one mode, that tell most about the rest: at
// 1.75 V the shortest time, 10, 20, 45, 120, 480 and 1200 min; at 1.60 V the
// shortest, 30 and 180 min; at 1.80 V 15 and 60 min. The nearest row stands for
// one that is missing; no row is taken twice, so there may be fewer.
func TwelvePoints(rows []Row) []Row {
	const shortest = 0.01
	var picked []Row
	for _, want := range []struct {
		endV    float64
		minutes []float64
	}{
		{1.75, []float64{shortest, 10, 20, 45, 120, 480, 1200}},
		{1.60, []float64{shortest, 30, 180}},
		{1.80, []float64{15, 60}},
	} {
		for _, minutes := range want.minutes {
			if r, ok := nearest(rows, want.endV, minutes); ok && !slices.Contains(picked, r) {
				picked = append(picked, r)
			}
		}
	}
	return picked
}

// nearest is the row with the nearest end voltage and, among those, the nearest
// time by ratio.
func nearest(rows []Row, endV, minutes float64) (best Row, ok bool) {
	far := func(r Row) (volts, ratio float64) {
		return math.Round(1000 * math.Abs(r.EndV-endV)), math.Abs(math.Log(r.Minutes / minutes))
	}
	for _, r := range rows {
		v, m := far(r)
		bv, bm := far(best)
		if !ok || v < bv || v == bv && m < bm {
			best, ok = r, true
		}
	}
	return best, ok
}

// Without are the rows that are not in taken.
func Without(rows, taken []Row) []Row {
	return slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return slices.Contains(taken, r) })
}

// C20 is the 20-hour capacity to 1.75 V that a table gives, in Ah: from its
// longest row at the nearest end voltage, by Peukert's law with an exponent of
// 1.15 (fits the tables of testdata within 8 %) if that is not one of 20 hours.
// Power rows count at 1.97 V per cell. A figure from the block's label is better
// where the longest row is below 5 hours. It is 0 without rows.
func C20(rows []Row) float64 {
	const longest, exponent, meanV = 1e6, 1.15, 1.97
	from := Of(rows, ConstantCurrent, 0, 3)
	if len(from) == 0 {
		from = rows
	}
	r, ok := nearest(from, 1.75, longest)
	if !ok {
		return 0
	}
	hours, amps := r.Minutes/60, r.Load
	if r.Mode == ConstantPower {
		amps /= meanV
	}
	return amps * hours * math.Pow(20/hours, 1-1/exponent)
}
