package sim

import (
	"errors"
	"fmt"
	"io"
	"os"

	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/journal"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
)

// ReplayOptions are the options of [Replay]; the zero value is fine.
type ReplayOptions struct {
	// Trace receives the trace of the replay.
	Trace io.Writer
	// Report has the result bring a [Report].
	Report bool
	// Done ends the replay early when it is closed; the result is then
	// interrupted and nothing is compared.
	Done <-chan struct{}
	// Log receives talk for people, a line a call.
	Log func(string)
}

// Replay repeats the session that the journal at path holds, in virtual time; a
// session that was cut off as far as it was recorded, which Log is told.
// The error is an *IOError, an *InvalidError, or a *MismatchError with a result
// beside it.
func Replay(path string, opts ReplayOptions) (*Result, error) {
	j, err := readJournal(path)
	if err != nil {
		return nil, err
	}
	s, err := Parse(j.Scenario, []byte(j.Source), WithVariant(j.Variant), WithSeed(j.Seed))
	if err != nil {
		return nil, err
	}
	if j.Memory != nil {
		kept, err := s.recorded(j)
		if err != nil {
			return nil, invalidJournal(path, &journal.FormatError{Line: 1, What: "the card's memory: " + err.Error()})
		}
		s = s.remembering(kept)
	}
	if j.RealLeases {
		s = s.leasing()
	}
	if j.Cut && opts.Log != nil {
		opts.Log(report.OneLine(path) + ": the session was cut off; it is repeated as far as it was recorded, to " + j.End.String())
	}
	check := j.Checker()
	result, err := s.repeat(j, tee(check, opts.Trace), opts)
	if err != nil || result.Interrupted {
		return result, err
	}
	if m := check.Mismatch(); m != nil {
		return result, &MismatchError{
			File: path, Line: m.Line, Recorded: m.Recorded, Replayed: m.Replayed,
			text: report.OneLine(path) + ": the replay differs from " + m.Error(),
		}
	}
	return result, nil
}

// recorded is what the cards had kept from before the session.
func (s *Scenario) recorded(j *journal.Journal) ([]*snap.Memory, error) {
	kept, plans := append([]*snap.Memory{j.Memory}, j.Units...), s.plan.All()
	if len(kept) != len(plans) {
		return nil, fmt.Errorf("of %d cards, where the site has %d", len(kept), len(plans))
	}
	for i, p := range plans {
		if err := card.CheckMemory(kept[i], p.Card.Identity.SerialNumber); err != nil {
			return nil, err
		}
	}
	return kept, nil
}

func readJournal(path string) (*journal.Journal, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, ioError("read", path, err)
	}
	defer f.Close()
	j, err := journal.Read(f)
	var format *journal.FormatError
	switch {
	case errors.As(err, &format):
		return nil, invalidJournal(path, format)
	case err != nil:
		return nil, ioError("read", path, err)
	}
	return j, nil
}

func invalidJournal(path string, e *journal.FormatError) *InvalidError {
	return &InvalidError{File: path, Line: e.Line, What: e.What, text: report.OneLine(path + ": " + e.Error())}
}

// repeat plays the journal's commands at their ticks and to its end.
func (s *Scenario) repeat(j *journal.Journal, traceTo io.Writer, opts ReplayOptions) (*Result, error) {
	r, first, err := s.begin(traceTo, opts.Report)
	if err != nil {
		return nil, err
	}
	r.see(first)
	for _, entry := range j.Entries {
		if !r.to(entry.Tick, opts.Done) {
			return r.finish(true)
		}
		r.do(entry)
	}
	whole := r.to(j.End, opts.Done)
	return r.finish(!whole)
}

// tee writes to both, or to the first alone.
func tee(first, second io.Writer) io.Writer {
	if second == nil {
		return first
	}
	return io.MultiWriter(first, second)
}
