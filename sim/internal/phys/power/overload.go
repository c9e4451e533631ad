package power

import (
	"math"

	"ridethrough/sim/internal/phys/num"
)

// Overload is the inverse law t = K/(x^2 - 1) of a load x times the rating, as
// an accumulator that fills while the load is above From and drains after with
// a time constant of its own. Typical (common practice): 60 s at 1.25, at once
// from 2, 120 s to drain.
type Overload struct {
	K     float64 // seconds, more than 0
	From  float64 // share of the rating that is borne for ever, 1 or more
	Limit float64 // share at which it trips at once; 0: none
	Drain float64 // seconds; 0 drains at once
}

// OverloadAt is the law that trips after seconds at share x (more than 1) of
// the rating, bears 1 for ever and drains with a time constant of 120 s.
func OverloadAt(seconds, x float64) Overload {
	return Overload{K: float64(seconds * excess(x)), From: 1, Drain: 120}
}

// Step is the accumulator (0 cold, 1 tripped) after dtSeconds at share x.
func (o Overload) Step(filled, x, dtSeconds float64) float64 {
	switch {
	case o.Limit > 0 && x >= o.Limit:
		return 1
	case x > o.From:
		return min(filled+float64(dtSeconds*excess(x))/o.K, 1)
	case o.Drain <= 0:
		return 0
	}
	return float64(filled * num.Exp(-dtSeconds/o.Drain))
}

// TripIn is in how many seconds the accumulator trips if the share stays x,
// infinite if never.
func (o Overload) TripIn(filled, x float64) float64 {
	switch {
	case filled >= 1 || o.Limit > 0 && x >= o.Limit:
		return 0
	case x > o.From:
		return o.K * (1 - filled) / excess(x)
	}
	return math.Inf(1)
}

func excess(x float64) float64 { return float64(x*x) - 1 }
