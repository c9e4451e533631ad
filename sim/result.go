package sim

import (
	"io"
	"time"

	"ridethrough/sim/internal/core/dossier"
	"ridethrough/sim/internal/core/report"
)

// State is how an expectation fared.
type State string

// States.
const (
	Met        State = "met"
	Missed     State = "missed"
	NotReached State = "not-reached" // the run never came to where it applies
	Open       State = "open"        // of a session that goes on: not decided yet
)

// Result is what a run came to. Times are simulated, from the start of the
// scenario.
type Result struct {
	Scenario string // file name without its folder
	Title    string
	Variant  string // "" for the scenario as it stands
	Seed     uint64
	Start    time.Time // calendar date of the start, as the scenario sets it

	Ended       time.Duration
	Interrupted bool // it was stopped before its end, and judged at that moment

	Verdicts []Verdict
	Hosts    []Host
	// Notifications counts what the card sent, by kind, such as "on_battery".
	Notifications map[string]int
	Events        []Event

	report  *report.Result
	dossier *dossier.Dossier // nil: nobody wanted one
}

// Verdict is how one expectation fared.
type Verdict struct {
	Name    string
	Claim   string // in one line, in the words of the scenario file
	State   State
	At      time.Duration // when it was decided
	Because string        // one line for people
}

// Host is what became of a protected machine.
type Host struct {
	Name   string
	State  string // "off", "booting", "running", "stopping", "stopped" or "cut"
	Ended  string // how its last run ended: "" if none did, "clean" or "cut"
	Starts int    // times it came to running, not counting the start
	Stops  int    // times it stopped cleanly
	Cuts   int    // times it lost its power while booting, running or stopping
}

// Event is one thing that happened.
type Event struct {
	At            time.Duration
	Subject, Text string
}

// Met says whether every expectation was met.
func (r *Result) Met() bool { return r.report.Met() }

// Failed is the names of the expectations that were not met.
func (r *Result) Failed() []string { return r.report.Failed() }

// Closing is the outcome in one line.
func (r *Result) Closing() string { return r.report.Closing() }

// Text writes the result for people: a condensed timeline, what became of the
// hosts, and the verdicts.
func (r *Result) Text(w io.Writer) error { return r.report.Text(w) }

// Brief writes the expectations that were not met, and the outcome in one line.
func (r *Result) Brief(w io.Writer) error { return r.report.Brief(w) }

// Short writes the expectations that were not met, the last that happened before the
// first of them was decided, and the outcome in one line.
func (r *Result) Short(w io.Writer) error { return r.report.Short(w) }

// JSON writes the result as docs/json.md describes it.
func (r *Result) JSON(w io.Writer) error { return r.report.JSON(w) }

// JUnit writes a test suite with one test case for each expectation. Not reached
// is a failure.
func (r *Result) JUnit(w io.Writer) error { return r.report.JUnit(w) }

func newResult(r *report.Result) *Result {
	result := &Result{
		Scenario: r.Scenario, Title: r.Title, Variant: r.Variant, Seed: r.Seed, Start: r.Start,
		Ended: r.Ended.Duration(), Interrupted: r.Interrupted,
		Notifications: r.Sent.ByName(),
		report:        r,
	}
	for _, v := range r.Verdicts {
		result.Verdicts = append(result.Verdicts, Verdict{v.Name, v.Form, State(v.State.String()), v.At.Duration(), v.Because})
	}
	for _, h := range r.Hosts {
		result.Hosts = append(result.Hosts, Host{h.Name, h.State.String(), h.Ended, h.Starts, h.Stops, h.Cuts})
	}
	for _, e := range r.Events {
		result.Events = append(result.Events, Event{e.Tick.Duration(), e.Subject, e.Text})
	}
	return result
}
