package num

import "math"

// The polynomials and the split of ln 2 are those of FreeBSD's e_exp.c and
// e_log.c (Sun Microsystems, 1993, freely redistributable); the evaluation is
// rewritten with guarded products.
const (
	ln2Hi  = 6.93147180369123816490e-01 // upper bits: k*ln2Hi is exact for |k| < 2^11
	ln2Lo  = 1.90821492927058770002e-10
	perLn2 = 1.44269504088896338700e+00

	expP1 = 1.66666666666666657415e-01
	expP2 = -2.77777777770155933842e-03
	expP3 = 6.61375632143793436117e-05
	expP4 = -1.65339022054652515390e-06
	expP5 = 4.13813679705723846039e-08

	logL1 = 6.666666666666735130e-01
	logL2 = 3.999999999940941908e-01
	logL3 = 2.857142874366239149e-01
	logL4 = 2.222219843214978396e-01
	logL5 = 1.818357216161805012e-01
	logL6 = 1.531383769920937332e-01
	logL7 = 1.479819860511658591e-01

	expMax = 709.78271289338397
	expMin = -708.39641853226408 // below this the result would be subnormal: 0 is given

	mantissa = 1<<52 - 1
	one      = 0x3ff0000000000000
	halfRoot = 0x3fe6a09e667f3bcd // sqrt(1/2)
)

// Exp is e^x within 1 unit in the last place. Exp(NaN) is NaN; above 709.78 it
// is +Inf; below -708.39 it is 0.
func Exp(x float64) float64 {
	switch {
	case math.IsNaN(x):
		return x
	case x > expMax:
		return math.Inf(1)
	case x < expMin:
		return 0
	}
	em, k := reduced(x)
	if k > 1023 {
		return float64(float64((1+em)*power2(1023)) * 2)
	}
	return float64((1 + em) * power2(k))
}

// Expm1 is e^x - 1 with full relative accuracy near 0 (within 3 units in the
// last place). Limits as [Exp], with -1 where that gives 0.
func Expm1(x float64) float64 {
	switch {
	case math.IsNaN(x) || x == 0:
		return x
	case x > 709:
		return Exp(x)
	case x < -50:
		return -1
	}
	em, k := reduced(x)
	scale := power2(k)
	return float64(em*scale) + (scale - 1)
}

// reduced gives em = e^r - 1 and k with x = k ln 2 + r, |r| <= ln(2)/2.
func reduced(x float64) (em float64, k int) {
	n := math.Floor(float64(x*perLn2) + 0.5)
	hi := x - float64(n*ln2Hi)
	lo := n * ln2Lo
	r := hi - float64(lo)
	t := r * r
	p := float64(t*(expP4+float64(t*expP5))) + expP3
	p = float64(t*p) + expP2
	p = float64(t*p) + expP1
	c := r - float64(t*p)
	return hi - (float64(lo) - float64(r*c)/(2-c)), int(n)
}

// power2 is 2^k for -1022 <= k <= 1023.
func power2(k int) float64 { return math.Float64frombits(uint64(k+1023) << 52) }

// Log is the natural logarithm within 1 unit in the last place. Log(+Inf) is
// +Inf, Log(0) is -Inf, Log of a negative or NaN is NaN.
func Log(x float64) float64 {
	switch {
	case x >= 0x1p-1022 && x <= math.MaxFloat64:
		return logOf(x, 0)
	case x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	case x < 1:
		return logOf(x*0x1p54, -54) // subnormal
	}
	return x // +Inf or NaN
}

// logOf is ln x + k ln 2 for normal x: with x = 2^k (1+f), sqrt(1/2) <= 1+f <
// sqrt(2) and s = f/(2+f), ln(1+f) = 2s + s R(s^2).
func logOf(x float64, k int) float64 {
	bits := math.Float64bits(x) + (one - halfRoot)
	k += int(bits>>52) - 1023
	f := math.Float64frombits(bits&mantissa+halfRoot) - 1
	s := f / (2 + f)
	z := s * s
	w := z * z
	even := float64(w * (logL2 + float64(w*(logL4+float64(w*logL6)))))
	odd := float64(z * (logL1 + float64(w*(logL3+float64(w*(logL5+float64(w*logL7)))))))
	half := float64(0.5 * float64(f*f))
	n := float64(k)
	tail := float64(s*(half+(even+odd))) + float64(n*ln2Lo)
	return float64(n*ln2Hi) - ((half - tail) - f)
}

// LogNear is the natural logarithm of x where that of base, lnBase, is known
// already: for x within 0.1 % of base it costs a short series, ln base +
// ln(1+d) with d = (x-base)/base, else it is [Log]. Both must be positive.
func LogNear(x, base, lnBase float64) float64 {
	d := float64((x - base) * (1 / base))
	if !(d > -1e-3 && d < 1e-3) {
		return Log(x)
	}
	series := 0.5 - float64(d*(1.0/3-float64(d*(0.25-float64(d*0.2)))))
	return lnBase + (d - float64(float64(d*d)*series))
}

// Pow is x^y for x > 0, as Exp(y Log x): within (2 + |y ln x|) units in the last
// place. Pow(0, y) is 0 for y > 0, 1 for y = 0 and +Inf for y < 0; a negative x
// gives NaN.
func Pow(x, y float64) float64 {
	if y == 0 {
		return 1
	}
	return Exp(y * Log(x))
}
