package sim

import (
	"fmt"
	"io"
	"time"
)

// RunOptions are the options of [Run]; the zero value is fine.
type RunOptions struct {
	// Trace receives what happened, line by line, with fixed decimals.
	Trace io.Writer
	// Report has the result bring a [Report].
	Report bool
	// Bundle receives what a recorder would have seen of the card at each Interval, 0
	// for ten seconds, in the form of docs/record.md.
	Bundle   io.Writer
	Interval time.Duration
	// Done ends the run early when it is closed.
	Done <-chan struct{}
}

// Run plays s in virtual time. A missed expectation is not an error: look at
// [Result.Met]. The error is an *InvalidError for a scenario whose hosts are
// real processes, which only [Serve] can play, or an *IOError of the trace.
func Run(s *Scenario, opts RunOptions) (*Result, error) {
	if err := s.playable(); err != nil {
		return nil, err
	}
	r, first, err := s.begin(opts.Trace, opts.Report)
	if err != nil {
		return nil, err
	}
	export, err := r.exporting(opts)
	if err != nil {
		return nil, err
	}
	r.see(first)
	whole := r.to(s.plan.RunFor, opts.Done)
	if err := export.end(r.engine.Now()); err != nil {
		return nil, err
	}
	return r.finish(!whole)
}

func (s *Scenario) needsServe() error {
	for _, h := range s.plan.Hosts {
		if len(h.Process) > 0 {
			what := fmt.Sprintf("host %s is a real process, which has no virtual time: use serve", h.Name)
			return invalidFile(s.name, what)
		}
	}
	return nil
}

// playable refuses what is not one site in virtual time.
func (s *Scenario) playable() error {
	if err := s.oneSite(); err != nil {
		return err
	}
	return s.needsServe()
}
