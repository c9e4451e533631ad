package study

import (
	"math"
	"slices"

	"ridethrough/sim/internal/core/vary"
)

// z95 is the deviate of 95 % on both sides.
const z95 = 1.959963984540054

// Proportion is a share with its interval of 95 % confidence.
type Proportion struct{ Share, Low, High float64 }

// wilson is the score interval of E. B. Wilson, Journal of the American Statistical
// Association 22 (1927) 209-212, without correction for continuity.
func wilson(hits, n int) Proportion {
	if n == 0 {
		return Proportion{0, 0, 1}
	}
	const z2 = z95 * z95
	count, p := float64(n), float64(hits)/float64(n)
	middle := p + float64(z2/(2*count))
	half := float64(z95 * math.Sqrt(float64(p*(1-p))/count+float64(z2/(4*float64(count*count)))))
	under := 1 + float64(z2/count)
	low, high := (middle-half)/under, (middle+half)/under
	if hits == 0 {
		low = 0
	}
	if hits == n {
		high = 1
	}
	return Proportion{p, max(low, 0), min(high, 1)}
}

// pairedDifference is the share of pairs in which only the second succeeded less that
// in which only the first did, with the interval of A. Agresti and Y. Min, Statistics
// in Medicine 24 (2005) 729-740: Wald's, with half a pair more of each sort.
func pairedDifference(onlyFirst, onlySecond, n int) Proportion {
	if n == 0 {
		return Proportion{0, -1, 1}
	}
	b, c, count := float64(onlyFirst)+0.5, float64(onlySecond)+0.5, float64(n)+2
	d := (c - b) / count
	half := float64(z95*math.Sqrt(max(0, b+c-float64((c-b)*(c-b))/count))) / count
	return Proportion{float64(onlySecond-onlyFirst) / float64(n), max(d-half, -1), min(d+half, 1)}
}

// mean and the sum of squares about it, in the order of the values.
func moments(values []float64) (mean, squares float64) {
	if len(values) == 0 {
		return 0, 0
	}
	for _, v := range values {
		mean += v
	}
	mean /= float64(len(values))
	for _, v := range values {
		squares += float64((v - mean) * (v - mean))
	}
	return mean, squares
}

// slope is the least-squares line of y over x, and their correlation; both are 0 if
// one of them is constant.
func slope(x, y []float64) (perUnit, correlation float64) {
	mx, sxx := moments(x)
	my, syy := moments(y)
	sxy := 0.0
	for i := range x {
		sxy += float64((x[i] - mx) * (y[i] - my))
	}
	if sxx == 0 || syy == 0 {
		return 0, 0
	}
	return sxy / sxx, sxy / math.Sqrt(float64(sxx*syy))
}

// ranks are those of the values from 1; equal ones share the mean of theirs.
func ranks(values []float64) []float64 {
	order := ascending(values)
	out := make([]float64, len(values))
	for from := 0; from < len(order); {
		to := from + 1
		for to < len(order) && values[order[to]] == values[order[from]] {
			to++
		}
		for _, i := range order[from:to] {
			out[i] = float64(from+to+1) / 2
		}
		from = to
	}
	return out
}

// ascending is the indices of the values in ascending order.
func ascending(values []float64) []int {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case values[a] < values[b]:
			return -1
		case values[a] > values[b]:
			return 1
		}
		return 0
	})
	return order
}

// rankCorrelation is Spearman's, by ranks with ties.
func rankCorrelation(x, y []float64) float64 {
	_, r := slope(ranks(x), ranks(y))
	return r
}

// classes are in how many parts a quantity is divided for its share of variance.
const classes = 20

// shareOfVariance is how much of the variance of y goes with x alone, whatever the
// shape: the first-order effect of a variance-based analysis, estimated by the
// correlation ratio over classes of x of equal size (over its values if there are
// few), without its bias: epsilon squared of T. L. Kelley, Proceedings of the National
// Academy of Sciences 21 (1935) 554-559.
func shareOfVariance(x, y []float64) float64 {
	n := len(x)
	_, total := moments(y)
	groups := grouped(x)
	if total == 0 || len(groups) < 2 || n <= len(groups) {
		return 0
	}
	within := 0.0
	for _, g := range groups {
		values := make([]float64, len(g))
		for i, at := range g {
			values[i] = y[at]
		}
		_, squares := moments(values)
		within += squares
	}
	share := 1 - float64(within/total)*float64(n-1)/float64(n-len(groups))
	return min(max(share, 0), 1)
}

// grouped divides the indices of x into classes. Equal values are in one class.
func grouped(x []float64) (groups [][]int) {
	order := ascending(x)
	distinct := 0
	for i := range order {
		if i == 0 || x[order[i]] != x[order[i-1]] {
			distinct++
		}
	}
	size := 1
	if distinct > classes {
		size = (len(x) + classes - 1) / classes
	}
	for from := 0; from < len(order); {
		to := min(from+size, len(order))
		for to < len(order) && x[order[to]] == x[order[to-1]] {
			to++
		}
		groups = append(groups, order[from:to])
		from = to
	}
	return groups
}

// Spread is how values are spread.
type Spread struct {
	Count                          int
	Mean, SD                       float64
	Min, P1, P5, Median, P95, Most float64
}

func spread(values []float64) Spread {
	s := Spread{Count: len(values)}
	if s.Count == 0 {
		return s
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	mean, squares := moments(values)
	s.Mean = mean
	if s.Count > 1 {
		s.SD = math.Sqrt(squares / float64(s.Count-1))
	}
	s.Min, s.Most = sorted[0], sorted[s.Count-1]
	s.P1, s.P5, s.Median, s.P95 = vary.Sample(sorted, 0.01), vary.Sample(sorted, 0.05), vary.Sample(sorted, 0.5), vary.Sample(sorted, 0.95)
	return s
}
