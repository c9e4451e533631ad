package num_test

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/checks"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/num"
)

// ulps is how many representable numbers lie between a and b.
func ulps(a, b float64) float64 {
	if a == b {
		return 0
	}
	size := math.Max(math.Abs(a), math.Abs(b))
	return math.Abs(a-b) / (math.Nextafter(size, math.Inf(1)) - size)
}

func TestExpAndLogAgreeWithTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-708, 709.7).Draw(t, "x")
		if got, want := num.Exp(x), math.Exp(x); ulps(got, want) > 2 {
			t.Fatalf("Exp(%v) = %v, want %v", x, got, want)
		}
		if got, want := num.Expm1(x), math.Expm1(x); ulps(got, want) > 4 {
			t.Fatalf("Expm1(%v) = %v, want %v", x, got, want)
		}
		small := x * 1e-3
		if got, want := num.Expm1(small), math.Expm1(small); ulps(got, want) > 4 {
			t.Fatalf("Expm1(%v) = %v, want %v", small, got, want)
		}
		y := math.Ldexp(rapid.Float64Range(1, 2).Draw(t, "m"), rapid.IntRange(-1022, 1023).Draw(t, "e"))
		if got, want := num.Log(y), math.Log(y); ulps(got, want) > 2 {
			t.Fatalf("Log(%v) = %v, want %v", y, got, want)
		}
		b, e := rapid.Float64Range(1e-3, 1e3).Draw(t, "b"), rapid.Float64Range(-5, 5).Draw(t, "e")
		if got, want := num.Pow(b, e), math.Pow(b, e); math.Abs(got/want-1) > 2e-14 {
			t.Fatalf("Pow(%v, %v) = %v, want %v", b, e, got, want)
		}
	})
}

func TestLimits(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"Exp(0)", num.Exp(0), 1},
		{"Exp(-inf)", num.Exp(-inf), 0},
		{"Exp(+inf)", num.Exp(inf), inf},
		{"Exp(NaN)", num.Exp(nan), nan},
		{"Exp(-750)", num.Exp(-750), 0},
		{"Exp(709.7)", num.Exp(709.7), math.Exp(709.7)},
		{"Expm1(0)", num.Expm1(0), 0},
		{"Expm1(-inf)", num.Expm1(-inf), -1},
		{"Expm1(+inf)", num.Expm1(inf), inf},
		{"Expm1(1e-300)", num.Expm1(1e-300), 1e-300},
		{"Expm1(NaN)", num.Expm1(nan), nan},
		{"Log(0)", num.Log(0), -inf},
		{"Log(-1)", num.Log(-1), nan},
		{"Log(1)", num.Log(1), 0},
		{"Log(2^-1060)", num.Log(0x1p-1060), -1060 * math.Ln2},
		{"Log(+inf)", num.Log(inf), inf},
		{"Log(NaN)", num.Log(nan), nan},
		{"Pow(0,2)", num.Pow(0, 2), 0},
		{"Pow(0,0)", num.Pow(0, 0), 1},
		{"Pow(0,-1)", num.Pow(0, -1), inf},
		{"Clamp low", num.Clamp(-1, 0, 2), 0},
		{"Clamp high", num.Clamp(3, 0, 2), 2},
		{"Clamp inside", num.Clamp(1, 0, 2), 1},
		{"Clamp NaN", num.Clamp(nan, 0, 2), 0},
		{"Lerp", num.Lerp(2, 4, 0.25), 2.5},
	} {
		if ulps(c.got, c.want) > 2 && !(math.IsNaN(c.got) && math.IsNaN(c.want)) {
			t.Errorf("%s = %v, want %v", c.name, c.got, c.want)
		}
	}
}

// The bits below are the promise of this package: they must come out on every
// machine. Never record them anew to make a test pass.
func TestBitsAreFixed(t *testing.T) {
	var sum uint64
	for i := range 4000 {
		x := float64(i)/7 - 250
		for _, v := range []float64{num.Exp(x), num.Expm1(x / 200), num.Log(math.Abs(x) + 0.1), num.MulAdd(x, x/3, 0.1)} {
			sum = sum*0x100000001b3 ^ math.Float64bits(v)
		}
	}
	if want := uint64(0xccfd76e24787c612); sum != want {
		t.Errorf("digest %#x, want %#x", sum, want)
	}
}

func TestMulAddRoundsTwice(t *testing.T) {
	// 1+2^-30 squared needs 61 bits, so a fused sum would keep 2^-60.
	a := 1 + 0x1p-30
	if got, want := num.MulAdd(a, a, -1), 0x1p-29; got != want {
		t.Errorf("MulAdd = %g, want %g", got, want)
	}
	exact := new(big.Float).SetPrec(200).SetFloat64(a)
	exact.Mul(exact, exact).Sub(exact, big.NewFloat(1))
	if fused, _ := exact.Float64(); fused == 0x1p-29 {
		t.Fatal("the example does not tell the two apart")
	}
}

func TestInterpolate(t *testing.T) {
	knots := []num.Knot{{X: 0, Y: 1}, {X: 2, Y: 5}, {X: 3, Y: 4}}
	for x, want := range map[float64]float64{-1: 1, 0: 1, 1: 3, 2: 5, 2.5: 4.5, 3: 4, 9: 4} {
		if got := num.Interpolate(knots, x); got != want {
			t.Errorf("at %v: %v, want %v", x, got, want)
		}
	}
}

func TestLogLogReadsADischargeTable(t *testing.T) {
	minutes := num.LogLog(num.Knot{X: 19.3, Y: 15}, num.Knot{X: 16.3, Y: 20}, 18.1159)
	checks.Load(t).Number(t, "TAB-29", minutes)
}

func BenchmarkLog(b *testing.B) {
	x, s := 0.3, 0.0
	for b.Loop() {
		s += num.Log(x)
	}
	if s == 1 {
		b.Fatal(s)
	}
}

func BenchmarkExpm1(b *testing.B) {
	x, s := -0.3, 0.0
	for b.Loop() {
		s += num.Expm1(x)
	}
	if s == 1 {
		b.Fatal(s)
	}
}

// The short series is as good as the logarithm itself, near and far.
func TestLogNear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := rapid.Float64Range(1e-9, 1e3).Draw(t, "base")
		x := base * (1 + rapid.SampledFrom([]float64{1e-9, 1e-6, 1e-3, 2e-3, 0.5}).Draw(t, "size")*rapid.Float64Range(-1, 1).Draw(t, "part"))
		got, want := num.LogNear(x, base, num.Log(base)), math.Log(x)
		if math.Abs(got-want) > 4e-16*(1+math.Abs(want)) {
			t.Fatalf("ln %v from %v is %v, want %v", x, base, got, want)
		}
	})
}
