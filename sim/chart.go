package sim

import (
	"fmt"
	"io"
	"strings"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/voltage"
)

// Chart is a picture with its axes and units. The same chart gives the same
// bytes.
type Chart struct{ chart figure.Chart }

// ChartFormat is the format that the ending of a file name asks for, "svg" or
// "png"; ok is false if it is neither.
func ChartFormat(name string) (format string, ok bool) {
	f, ok := figure.FormatOf(name)
	return string(f), ok
}

// Write writes the chart in a format, "svg" or "png".
func (c *Chart) Write(w io.Writer, format string) error {
	return c.chart.Write(w, figure.Format(format))
}

// Blocks is the names of the battery blocks of the library.
func Blocks() []string { return blocks.Names() }

// DischargeChart is the voltage of a block of the library against time at a family
// of constant currents. An unknown name is an *InvalidError.
func DischargeChart(block string) (*Chart, error) {
	b, ok := blocks.ByName(block)
	if !ok {
		what := fmt.Sprintf("the library has no block %q", block)
		if near := expect.Nearest(block, blocks.Names()); near != "" {
			what += fmt.Sprintf("; did you mean %q?", near)
		} else {
			what += "; it has " + strings.Join(blocks.Names(), ", ")
		}
		return nil, &InvalidError{File: block, What: what, text: report.OneLine(what)}
	}
	return &Chart{figure.Discharge(&b)}, nil
}

// Variation is a time in which the supply was outside 90 to 110 % of nominal.
type Variation struct {
	StartMS, EndMS int64   // simulated, from the start of the scenario
	Open           bool    // it had not ended when the run did
	VoltagePct     float64 // RMS, of nominal, the farthest that it came
	Class          string  // in the words of IEEE 1159
	Rides          bool    // equipment on the ITI curve works on
}

// Variations plays s in virtual time, to the end or until opts.Done is closed,
// and lists the voltage variations of its supply, with a chart of them on the ITI
// curve. Errors are as for [Run].
func Variations(s *Scenario, opts RunOptions) ([]Variation, *Chart, error) {
	if err := s.needsServe(); err != nil {
		return nil, nil, err
	}
	r, first, err := s.begin(opts.Trace, false)
	if err != nil {
		return nil, nil, err
	}
	watch := voltage.Watch{Volts: s.plan.Source.Volts, Hz: s.plan.Source.Hz}
	look := func(f engine.Frame) {
		r.see(f)
		watch.See(f.Tick, f.Site.Feed)
	}
	look(first)
	for r.engine.Now() < s.plan.RunFor && !closed(opts.Done) {
		look(r.engine.Step(s.plan.RunFor))
	}
	found := watch.Finish(r.engine.Now())
	return variations(found), &Chart{figure.ITI(s.Title(), found, s.plan.Source.Hz)}, nil
}

func closed(done <-chan struct{}) bool {
	select {
	case <-done:
		return true
	default:
		return false
	}
}

func variations(found []voltage.Variation) []Variation {
	list := make([]Variation, len(found))
	for i, v := range found {
		list[i] = Variation{
			StartMS: int64(v.Start), EndMS: int64(v.End), Open: v.Open,
			VoltagePct: 100 * v.Share, Class: v.Class.String(), Rides: v.Rides,
		}
	}
	return list
}
