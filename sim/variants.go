package sim

import (
	"io"

	"ridethrough/sim/internal/core/report"
)

// Trials are all versions of one scenario that were played: the scenario as it
// stands, which has to meet every expectation, and its variants, each of which
// has to miss exactly the expectations that it names.
type Trials struct{ report report.Trials }

// RunVariants plays s as it stands and in each of its variants, whatever
// variant it was loaded with. The options' trace is not used. Errors are those
// of [Run].
func RunVariants(s *Scenario, opts RunOptions) (*Trials, error) {
	variants, err := s.Variants()
	if err != nil {
		return nil, err
	}
	opts.Trace = nil
	trials := &Trials{}
	for _, v := range append([]Variant{{}}, variants...) {
		changed, err := s.With(WithVariant(v.Name), WithSeed(s.Seed()))
		if err != nil {
			return nil, err
		}
		result, err := changed.outcome(opts)
		if err != nil {
			return nil, err
		}
		trials.report = append(trials.report, report.Trial{Variant: v.Name, Misses: v.Misses, Result: result})
		if result.Interrupted {
			break
		}
	}
	return trials, nil
}

// outcome is what the scenario comes to, as one result even if it is a fleet.
func (s *Scenario) outcome(opts RunOptions) (*report.Result, error) {
	if s.plan.Fleet != nil {
		fleet, err := RunFleet(s, opts)
		if err != nil {
			return nil, err
		}
		return fleet.report.Result(), nil
	}
	result, err := Run(s, opts)
	if err != nil {
		return nil, err
	}
	return result.report, nil
}

// Right says whether every version came out as it should.
func (t *Trials) Right() bool { return t.report.Right() }

// Interrupted says whether the last version was stopped before its end.
func (t *Trials) Interrupted() bool { return t.report.Interrupted() }

// Text writes a line for each version, or with brief for each that came out
// wrong, and the outcome in one line.
func (t *Trials) Text(w io.Writer, brief bool) error { return t.report.Text(w, brief) }

// JSON writes the versions as docs/json.md describes it.
func (t *Trials) JSON(w io.Writer) error { return t.report.JSON(w) }

// JUnit writes a test case for each version; a variant that misses what it
// names is a success.
func (t *Trials) JUnit(w io.Writer) error { return t.report.JUnit(w) }
