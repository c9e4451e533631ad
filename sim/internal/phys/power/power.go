package power

import (
	"math"

	"ridethrough/sim/internal/phys/num"
)

// LossCurve is converter loss as shares of the rating. NoLoad and Quadratic are
// 0 or more; a Linear below 0 counts as 0, because it would put the efficiency
// wrong, even above 1, at small loads. Fits of three points can give one.
type LossCurve struct {
	NoLoad, Linear, Quadratic float64
}

// Loss is what the converter turns into heat at outputW, in W.
func (c LossCurve) Loss(outputW, ratingW float64) float64 {
	x := outputW / ratingW
	return float64(ratingW * (c.NoLoad + float64(max(c.Linear, 0)*x) + float64(c.Quadratic*float64(x*x))))
}

// Efficiency is output over input at outputW, 0 without load.
func (c LossCurve) Efficiency(outputW, ratingW float64) float64 {
	if outputW <= 0 {
		return 0
	}
	return outputW / (outputW + c.Loss(outputW, ratingW))
}

// BestLoad is the share of the rating at which the efficiency is best: infinite
// if losses do not rise with the square of the load.
func (c LossCurve) BestLoad() float64 { return math.Sqrt(c.NoLoad / c.Quadratic) }

// EfficiencyPoint is one figure of a data sheet: share of the rating, more than
// 0, and efficiency there, 0..1.
type EfficiencyPoint struct{ Load, Efficiency float64 }

// LossThrough is the curve through three points with different loads. It is as
// the points are: Linear may be below 0, see [LossCurve].
func LossThrough(p [3]EfficiencyPoint) LossCurve {
	var loss, slope [3]float64
	for i, q := range p {
		loss[i] = q.Load * (1/q.Efficiency - 1)
	}
	// Newton's divided differences.
	slope[0] = (loss[1] - loss[0]) / (p[1].Load - p[0].Load)
	slope[1] = (loss[2] - loss[1]) / (p[2].Load - p[1].Load)
	c := (slope[1] - slope[0]) / (p[2].Load - p[0].Load)
	b := slope[0] - float64(c*(p[0].Load+p[1].Load))
	a := loss[0] - float64(p[0].Load*(b+float64(c*p[0].Load)))
	return LossCurve{NoLoad: a, Linear: b, Quadratic: c}
}

// LoadPct is the load in percent of rating: the greater of W and VA against
// theirs. It is not limited; see [ShownLoadPct].
func LoadPct(w, va, ratingW, ratingVA float64) float64 {
	return float64(100 * max(w/ratingW, va/ratingVA))
}

// ShownLoadPct is pct limited to 0..200, the range of upsOutputPercentLoad in
// RFC 1628.
func ShownLoadPct(pct float64) float64 { return num.Clamp(pct, 0, 200) }

// PowerFactor is true over apparent power, 1 if there is neither.
func PowerFactor(w, va float64) float64 {
	if va == 0 {
		return 1
	}
	return w / va
}

// ChargingInputW is what a converter takes in that carries outputW with curve c
// and feeds a charger chargerW at efficiency chargerEff (more than 0).
func ChargingInputW(c LossCurve, outputW, ratingW, chargerW, chargerEff float64) float64 {
	return outputW + c.Loss(outputW, ratingW) + float64(chargerW/chargerEff)
}
