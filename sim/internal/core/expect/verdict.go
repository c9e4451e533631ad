package expect

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// State is how an expectation fared.
type State uint8

// States.
const (
	Open       State = iota // not decided yet
	Met                     // it held
	Missed                  // it did not hold
	NotReached              // the run ended, or never came to where it applies
)

// String is the word for s in reports.
func (s State) String() string {
	return [...]string{"open", "met", "missed", "not-reached"}[s]
}

// Words is the state for people; String is that for programs.
func (s State) Words() string {
	if s == NotReached {
		return "not reached"
	}
	return s.String()
}

// Verdict is the outcome of one expectation.
type Verdict struct {
	Name    string
	Form    string // the claim in one line
	State   State
	At      vtime.Tick // when it was decided
	Because string     // one line for people
}

// Form is the claim of e in one line, in the words of the scenario file.
func Form(e *plan.Expect) string {
	that := e.That.Text
	switch e.Form {
	case plan.Always:
		return "always " + that + window(e)
	case plan.NeverHolds:
		return "never " + that + window(e)
	case plan.Once:
		return "once " + that + window(e)
	case plan.At:
		return "at " + e.Time.String() + " " + that
	case plan.By:
		return "by " + e.Time.String() + " " + that
	case plan.Within:
		return "within " + e.Time.String() + " " + that + window(e)
	default:
		return "at the end " + that
	}
}

func window(e *plan.Expect) string {
	text := ""
	if e.After != nil {
		text += " after " + e.After.Text
	}
	if e.Until != nil {
		text += " until " + e.Until.Text
	}
	return text
}
