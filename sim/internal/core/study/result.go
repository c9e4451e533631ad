package study

import (
	"math"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/vary"
)

// Result is a whole study.
type Result struct {
	Header      *Header
	Played      int // runs that were played: all, unless it was interrupted
	Versions    []VersionResult
	Comparisons []Comparison // of the first version with each of the others
}

// VersionResult is what became of one version.
type VersionResult struct {
	*Version
	Met     int // runs that met every expectation
	Success Proportion
	Claims  []ClaimResult
	Hosts   []HostResult
	Seconds Spread // of the margin
	Charge  Spread
	// Margins and Draws are of the runs that have a margin, for charts. Draws are by
	// quantity.
	Margins []float64
	Draws   [][]float64
	Effects []Effect
	First   int   // the first run that did not meet everything; 0: none
	Fails   []int // how many runs had failed by each of some runs, evenly spaced
}

// ClaimResult is how an expectation fared.
type ClaimResult struct {
	Claim
	Met, Missed, NotReached int
	Share                   Proportion // of runs that met it
	Why                     []Class
}

// HostResult is what became of a host.
type HostResult struct {
	Name  string
	Cut   int        // runs in which it was cut
	Away  int        // runs in which it was not, and was not at work at the end
	Share Proportion // of runs in which it was cut
	Why   []Class
}

// Class is a reason without its numbers.
type Class struct {
	Text  string
	Count int
	First int // run
}

// Effect is what a quantity does to the margin in seconds.
type Effect struct {
	Quantity
	// Rank is Spearman's correlation; PerUnit the slope of the least-squares line, in
	// seconds for each unit; both 0 for words. Share is of the variance.
	Rank, PerUnit, Share float64
	Varies               bool // not fixed, and not the same in every run
}

// Comparison is two versions on the same draws.
type Comparison struct {
	Variant                            string
	Both, OnlyFirst, OnlyThis, Neither int
	Difference                         Proportion // of the shares of runs that met everything
	Margin                             float64    // by how many seconds its margin is larger in the mean
	MarginLow, MarginHigh              float64    // 95 % by the paired differences
	Pairs                              int        // runs in which both have a margin
}

// Sum adds runs up, which stand in their order from run 1.
func Sum(h *Header, runs []Run) *Result {
	r := &Result{Header: h, Played: len(runs)}
	for i := range h.Versions {
		r.Versions = append(r.Versions, sumVersion(&h.Versions[i], i, runs))
		if i > 0 {
			r.Comparisons = append(r.Comparisons, compare(h.Versions[i].Variant, i, runs))
		}
	}
	return r
}

func sumVersion(v *Version, at int, runs []Run) VersionResult {
	s := VersionResult{Version: v, Claims: make([]ClaimResult, len(v.Claims)), Hosts: make([]HostResult, len(v.Hosts)), Draws: make([][]float64, len(v.Quantities))}
	claims, hosts := make([]reasons, len(v.Claims)), make([]reasons, len(v.Hosts))
	var charges []float64
	for i := range runs {
		o := &runs[i].Versions[at]
		s.count(o, runs[i].Number)
		for _, w := range o.Why {
			if w.Claim > 0 {
				claims[w.Claim-1].add(w.Text, runs[i].Number)
			} else {
				hosts[w.Host-1].add(w.Text, runs[i].Number)
			}
		}
		if o.Margin != nil {
			s.Margins = append(s.Margins, o.Margin.Seconds)
			charges = append(charges, o.Margin.ChargePct)
			for q, d := range o.Draws {
				s.Draws[q] = append(s.Draws[q], d)
			}
		}
		if due := (len(s.Fails) + 1) * len(runs) / steps(len(runs)); i+1 == due {
			s.Fails = append(s.Fails, i+1-s.Met)
		}
	}
	s.Success = wilson(s.Met, len(runs))
	for i := range s.Claims {
		c := &s.Claims[i]
		c.Claim, c.Share, c.Why = v.Claims[i], wilson(c.Met, len(runs)), claims[i].sorted()
	}
	for i := range s.Hosts {
		h := &s.Hosts[i]
		h.Name, h.Share, h.Why = v.Hosts[i], wilson(h.Cut, len(runs)), hosts[i].sorted()
	}
	s.Seconds, s.Charge = spread(s.Margins), spread(charges)
	s.effects()
	return s
}

// steps is how many points the course of the failures has.
func steps(runs int) int { return min(runs, 200) }

func (s *VersionResult) count(o *Outcome, run int) {
	if o.Met() {
		s.Met++
	} else if s.First == 0 {
		s.First = run
	}
	for i := range s.Claims {
		switch o.Claims[i] {
		case metLetter:
			s.Claims[i].Met++
		case missedLetter:
			s.Claims[i].Missed++
		default:
			s.Claims[i].NotReached++
		}
	}
	for i := range s.Hosts {
		switch o.Hosts[i] {
		case cutLetter:
			s.Hosts[i].Cut++
		case awayLetter:
			s.Hosts[i].Away++
		}
	}
}

// effects works out the sensitivity, the largest first.
func (s *VersionResult) effects() {
	for i, q := range s.Quantities {
		e := Effect{Quantity: q}
		x := s.Draws[i]
		if !q.Fixed && len(x) > 1 && slices.Min(x) < slices.Max(x) {
			e.Varies, e.Share = true, shareOfVariance(x, s.Margins)
			if q.Labels == nil {
				e.PerUnit, _ = slope(x, s.Margins)
				e.Rank = rankCorrelation(x, s.Margins)
			}
		}
		s.Effects = append(s.Effects, e)
	}
	slices.SortStableFunc(s.Effects, func(a, b Effect) int {
		switch x, y := rounded(a.Share), rounded(b.Share); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return strings.Compare(a.Path, b.Path)
	})
}

// reasons counts what is the same.
type reasons struct {
	at   map[string]int
	list []Class
}

func (r *reasons) add(text string, run int) {
	i, known := r.at[text]
	if !known {
		if r.at == nil {
			r.at = map[string]int{}
		}
		i = len(r.list)
		r.at[text] = i
		r.list = append(r.list, Class{Text: text, First: run})
	}
	r.list[i].Count++
}

// sorted is the reasons, the commonest first.
func (r *reasons) sorted() []Class {
	slices.SortStableFunc(r.list, func(a, b Class) int { return b.Count - a.Count })
	return r.list
}

func compare(variant string, at int, runs []Run) Comparison {
	c := Comparison{Variant: variant}
	var more []float64
	for i := range runs {
		a, b := &runs[i].Versions[0], &runs[i].Versions[at]
		switch x, y := a.Met(), b.Met(); {
		case x && y:
			c.Both++
		case x:
			c.OnlyFirst++
		case y:
			c.OnlyThis++
		default:
			c.Neither++
		}
		if a.Margin != nil && b.Margin != nil {
			more = append(more, b.Margin.Seconds-a.Margin.Seconds)
		}
	}
	c.Difference = pairedDifference(c.OnlyFirst, c.OnlyThis, len(runs))
	s := spread(more)
	c.Pairs, c.Margin = s.Count, s.Mean
	half := float64(z95 * s.SD / math.Sqrt(float64(max(1, s.Count))))
	c.MarginLow, c.MarginHigh = s.Mean-half, s.Mean+half
	return c
}

// Holds says whether the first version succeeded in at least that share of the runs;
// sure asks it of the lower end of the interval.
func (r *Result) Holds(share float64, sure bool) bool {
	p := r.Versions[0].Success
	if sure {
		return p.Low >= share
	}
	return p.Share >= share
}

// RunSeed is the master seed of a run.
func (r *Result) RunSeed(run int) uint64 { return vary.RunSeed(r.Header.Seed, run) }
