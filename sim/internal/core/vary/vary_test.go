package vary

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
)

// The deviates are those of the publication's own check: z(0.25), z(0.001) and
// z(1e-20) (Wichura 1988, p. 483); 1.6448536... and 1.9599639... stand in every table.
func TestNormalQuantile(t *testing.T) {
	for _, c := range []struct{ u, want float64 }{
		{0.25, -0.6744897501960817}, {0.001, -3.090232306167814}, {1e-20, -9.262340089798408},
		{0.95, 1.6448536269514722}, {0.975, 1.959963984540054}, {0.5, 0},
	} {
		if got := NormalQuantile(c.u); math.Abs(got-c.want) > 1e-14*math.Max(1, math.Abs(c.want)) {
			t.Errorf("NormalQuantile(%g) = %.17g, want %.17g", c.u, got, c.want)
		}
	}
}

// Against the standard library's complementary error function.
func TestNormalShare(t *testing.T) {
	for x := -8.0; x <= 8; x += 0.37 {
		want := 0.5 * math.Erfc(-x/math.Sqrt2)
		if got := NormalShare(x); math.Abs(got-want) > 1e-13*want+1e-16 {
			t.Errorf("NormalShare(%g) = %.17g, want %.17g", x, got, want)
		}
	}
}

// Frozen: a study written today must draw the same in three years. The first is
// checked with: printf '\0\0\0\0\0\0\0\7vary/battery.age_years/0' | sha256sum.
func TestDrawsAreFrozen(t *testing.T) {
	for run, want := range []float64{0.4834336030899601, 0.5766504183412337} {
		if got := Uniform(7, "battery.age_years", run); got != want {
			t.Errorf("run %d: %.17g, want %.17g", run, got, want)
		}
	}
	if got := RunSeed(7, 0); got != 1347843075305270042 {
		t.Errorf("seed of run 0: %d", got)
	}
}

// moments are mean and standard deviation by the midpoint rule over u.
func moments(d *Distribution) (mean, sd float64) {
	const n = 200_000
	var sum, squares float64
	for i := range n {
		x := d.Quantile((float64(i) + 0.5) / n)
		sum, squares = sum+x, squares+x*x
	}
	mean = sum / n
	return mean, math.Sqrt(squares/n - mean*mean)
}

// Means and standard deviations by the textbook formulas (Evans, Hastings and
// Peacock, Statistical Distributions).
func TestMoments(t *testing.T) {
	inf := math.Inf(1)
	for name, c := range map[string]struct {
		d        Distribution
		mean, sd float64
	}{
		"uniform":     {Distribution{Kind: Uniformly, A: 2, B: 8}, 5, 6 / math.Sqrt(12)},
		"triangular":  {Distribution{Kind: Triangular, A: 1, B: 2, C: 6}, 3, math.Sqrt((1 + 4 + 36 - 2 - 6 - 12) / 18.0)},
		"normal":      {Distribution{Kind: Normal, A: 10, B: 3, Low: -inf, High: inf}, 10, 3},
		"half normal": {Distribution{Kind: Normal, A: 0, B: 1, Low: 0, High: inf}, math.Sqrt(2 / math.Pi), math.Sqrt(1 - 2/math.Pi)},
		"lognormal":   {Distribution{Kind: Lognormal, A: 100, B: 0.4, High: inf}, 100 * math.Exp(0.08), 100 * math.Exp(0.08) * math.Sqrt(math.Exp(0.16)-1)},
		"exponential": {Distribution{Kind: Exponential, A: 7, High: inf}, 7, 7},
		"weibull":     {Distribution{Kind: Weibull, A: 2, B: 5, High: inf}, 5 * math.Gamma(1.5), 5 * math.Sqrt(math.Gamma(2)-math.Gamma(1.5)*math.Gamma(1.5))},
		"empirical":   {Distribution{Kind: Empirical, Values: []float64{6, 2}}, 4, 4 / math.Sqrt(12)},
		"choice":      {Distribution{Kind: Choice, Values: []float64{1, 5}, Weights: []float64{3, 1}}, 2, math.Sqrt(3)},
	} {
		if !c.d.Prepare() {
			t.Errorf("%s: nothing is left of it", name)
			continue
		}
		mean, sd := moments(&c.d)
		if math.Abs(mean-c.mean) > 2e-4*c.mean || math.Abs(sd-c.sd) > 2e-3*c.sd {
			t.Errorf("%s: mean %g and deviation %g, want %g and %g", name, mean, sd, c.mean, c.sd)
		}
	}
}

func TestGridTakesTurns(t *testing.T) {
	d := Distribution{Kind: Grid, Values: []float64{1, 2, 3}, Stride: 2}
	want := []float64{1, 1, 2, 2, 3, 3, 1}
	for run, w := range want {
		if got := d.At(run, 0.9); got != w {
			t.Errorf("run %d: %g, want %g", run, got, w)
		}
	}
}

func TestNothingIsLeft(t *testing.T) {
	d := Distribution{Kind: Lognormal, A: 1, B: 0.1, Low: -3, High: 0}
	if d.Prepare() {
		t.Error("a lognormal distribution below 0")
	}
}

// Draws rise with u and stay within their limits.
func TestQuantilesRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.1, 50).Draw(t, "a")
		d := Distribution{
			Kind: rapid.SampledFrom([]Kind{Uniformly, Triangular, Normal, Lognormal, Exponential, Weibull}).Draw(t, "kind"),
			A:    a, Low: rapid.Float64Range(0, 20).Draw(t, "low"),
		}
		d.B = d.A + rapid.Float64Range(0, 5).Draw(t, "b")
		d.C = d.B + rapid.Float64Range(0, 5).Draw(t, "c")
		d.High = d.Low + rapid.Float64Range(0.1, 100).Draw(t, "span")
		if d.Kind == Lognormal {
			d.B = 0.5
		}
		if !d.Prepare() {
			t.Skip("cut away")
		}
		low, high := d.Low, d.High
		if !d.Cut() {
			low, high = d.A, max(d.B, d.C)
		}
		u, v := rapid.Float64Range(0x1p-53, 1-0x1p-53).Draw(t, "u"), rapid.Float64Range(0x1p-53, 1-0x1p-53).Draw(t, "v")
		x, y := d.Quantile(min(u, v)), d.Quantile(max(u, v))
		if x > y || x < low || y > high+1e-9 {
			t.Fatalf("%+v: %g then %g, within %g and %g", d, x, y, low, high)
		}
	})
}
