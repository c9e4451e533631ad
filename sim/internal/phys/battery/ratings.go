package battery

import "ridethrough/sim/internal/phys/num"

// Peukert is the runtime in hours at a constant current by Peukert's law,
// t = H (C/(I H))^n, for a block that gives ah in ratedHours. One exponent
// holds over a narrow range of currents only: use it for the estimate of a
// display, not for a battery.
func Peukert(ah, ratedHours, exponent, amps float64) float64 {
	return float64(ratedHours * num.Pow(ah/(amps*ratedHours), exponent))
}

// PeukertExponent is the exponent through two points of a discharge table,
// n = ln(t2/t1)/ln(I1/I2).
func PeukertExponent(amps1, hours1, amps2, hours2 float64) float64 {
	return num.Log(hours2/hours1) / num.Log(amps1/amps2)
}

// Rating is what a block gives in some hours at constant current.
type Rating struct{ Hours, Ah float64 }

// KineticFromRatings is the kinetic battery model through three ratings, sorted
// by rising hours and capacity. With F = q(t1)/q(t2) two ratings give the share
// of the available well as a function of the rate constant,
//
//	c = [F (1-e1) t2 - (1-e2) t1] / [same - k F t1 t2 + k t1 t2],  e = exp(-k t)
//
// and the constant is where both pairs agree (Manwell and McGowan 1993). It is
// false if no constant from 0.001 to 100 per hour does.
func KineticFromRatings(r [3]Rating) (p Params, ok bool) {
	apart := func(k float64) float64 { return share(r[0], r[1], k) - share(r[0], r[2], k) }
	lo, hi := 1e-3, 100.0
	atLo := apart(lo)
	if !(atLo*apart(hi) < 0) {
		return Params{}, false
	}
	for range 80 {
		if mid := (lo + hi) / 2; apart(mid)*atLo > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	c := share(r[0], r[2], lo)
	return KineticFrom(fullCharge(r[2], c, lo), c, lo), c > 0 && c <= 1
}

func share(a, b Rating, k float64) float64 {
	f := a.Ah / b.Ah
	gone := float64(f*b.Hours*-num.Expm1(-k*a.Hours)) + float64(a.Hours*num.Expm1(-k*b.Hours))
	return gone / (gone + float64(k*a.Hours*b.Hours*(1-f)))
}

// fullCharge inverts q(T) = qmax k c T / [1 - e + c (kT - 1 + e)].
func fullCharge(r Rating, c, k float64) float64 {
	gone := -num.Expm1(-k * r.Hours)
	return r.Ah * (gone + float64(c*(float64(k*r.Hours)-gone))) / (k * c * r.Hours)
}

// CapacityIn is what a full cell gives at a constant current that takes it to
// cutoffV in hours (more than 0, less than [MaxRuntime]), in Ah: the C20 of a
// data sheet is CapacityIn(20, 1.75). It is 0 if no current does.
func (p *Params) CapacityIn(hours, cutoffV float64) (ah float64) {
	full := p.AtCharge(1)
	lo, hi := 0.0, 2*p.C/hours
	for range 60 {
		if mid := (lo + hi) / 2; p.RuntimeAtCurrent(full, mid, cutoffV) > hours {
			lo = mid
		} else {
			hi = mid
		}
	}
	return float64(lo * hours)
}
