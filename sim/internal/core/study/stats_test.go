package study

import (
	"math"
	"testing"

	"ridethrough/sim/internal/core/vary"
)

// The examples of R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, table I,
// method 3.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		hits, n   int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		got := wilson(c.hits, c.n)
		if math.Abs(got.Low-c.low) > 5e-5 || math.Abs(got.High-c.high) > 5e-5 {
			t.Errorf("%d of %d: %.5f to %.5f, want %.4f to %.4f", c.hits, c.n, got.Low, got.High, c.low, c.high)
		}
	}
	if p := wilson(20, 20); p.High != 1 || p.Low != 1-wilson(0, 20).High {
		t.Errorf("20 of 20: %+v", p)
	}
}

// The approval ratings of A. Agresti, Categorical Data Analysis, section 10.1: of 1600
// people 150 approved in the first survey only and 86 in the second only, a difference
// of -0.040 with the interval -0.059 to -0.021. The half pairs move it by less than the
// last digit.
func TestPairedDifference(t *testing.T) {
	got := pairedDifference(150, 86, 1600)
	if math.Abs(got.Share+0.04) > 1e-12 || math.Abs(got.Low+0.0587) > 2e-4 || math.Abs(got.High+0.0213) > 2e-4 {
		t.Errorf("%+v", got)
	}
	if none := pairedDifference(0, 0, 1000); none.Low >= 0 || none.High <= 0 {
		t.Errorf("no pair differs: %+v", none)
	}
}

// linear is y = 3a + 4b - 0c with independent standard normal a, b and c.
func linear(n int) (y []float64, x [3][]float64) {
	for run := 1; run <= n; run++ {
		for i, name := range []string{"a", "b", "c"} {
			x[i] = append(x[i], vary.NormalQuantile(vary.Uniform(5, name, run)))
		}
		y = append(y, 3*x[0][run-1]+4*x[1][run-1])
	}
	return y, x
}

// For a linear model of independent normal quantities all is known: the share of
// variance is a^2 over the sum of squares, 0.36, 0.64 and 0 (A. Saltelli et al., Global
// Sensitivity Analysis, 2008, section 1.2), and Spearman's correlation 6/pi asin(r/2)
// for a correlation r of 0.6, 0.8 and 0 (K. Pearson 1907; M. Kendall and J. Gibbons,
// Rank Correlation Methods).
func TestSensitivityOfALinearModel(t *testing.T) {
	const n = 20_000
	y, x := linear(n)
	for i, c := range []struct{ slope, r float64 }{{3, 0.6}, {4, 0.8}, {0, 0}} {
		s, r := slope(x[i], y)
		rank, share := rankCorrelation(x[i], y), shareOfVariance(x[i], y)
		if math.Abs(s-c.slope) > 0.1 || math.Abs(r-c.r) > 0.02 {
			t.Errorf("quantity %d: slope %.3f, correlation %.3f", i, s, r)
		}
		if want := 6 / math.Pi * math.Asin(c.r/2); math.Abs(rank-want) > 0.02 {
			t.Errorf("quantity %d: rank correlation %.3f, want %.3f", i, rank, want)
		}
		if want := c.r * c.r; math.Abs(share-want) > 0.02 {
			t.Errorf("quantity %d: share of variance %.3f, want %.3f", i, share, want)
		}
	}
}

// A quantity that matters and has no slope: y = a^2. Its share of variance is all,
// its rank correlation nothing.
func TestShareOfVarianceSeesABow(t *testing.T) {
	_, x := linear(10_000)
	var y []float64
	for _, a := range x[0] {
		y = append(y, a*a)
	}
	if share, rank := shareOfVariance(x[0], y), rankCorrelation(x[0], y); share < 0.75 || math.Abs(rank) > 0.03 {
		t.Errorf("share %.3f, rank correlation %.3f", share, rank)
	}
}

// The ten pairs that every introduction to Spearman's coefficient has: IQ and hours
// of television, rho = -29/165 (common example).
func TestRankCorrelation(t *testing.T) {
	iq := []float64{106, 100, 86, 101, 99, 103, 97, 113, 112, 110}
	tv := []float64{7, 27, 2, 50, 28, 29, 20, 12, 6, 17}
	if got := rankCorrelation(iq, tv); math.Abs(got+29.0/165) > 1e-12 {
		t.Errorf("%g", got)
	}
	if got := ranks([]float64{5, 1, 5, 9}); got[0] != 2.5 || got[1] != 1 || got[2] != 2.5 || got[3] != 4 {
		t.Errorf("ranks with a tie: %v", got)
	}
}

func TestSpread(t *testing.T) {
	s := spread([]float64{4, 1, 3, 2})
	if s.Mean != 2.5 || s.Median != 2.5 || s.Min != 1 || s.Most != 4 || math.Abs(s.SD-math.Sqrt(5.0/3)) > 1e-15 {
		t.Errorf("%+v", s)
	}
	if z := spread(nil); z != (Spread{}) {
		t.Errorf("%+v", z)
	}
}
