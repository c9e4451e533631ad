package report

import (
	"time"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Event is one thing that happened, with the state of the unit after the
// instant in which it happened.
type Event struct {
	Tick          vtime.Tick
	Subject, Text string // for people
	What          snap.What
	Source        snap.OutputSource // what feeds the output
	ChargePct     float64           // the battery's true charge
}

// Result is what one run came to.
type Result struct {
	Scenario string // file name without its folder
	Title    string
	Variant  string // "" for the scenario as it stands
	Seed     uint64
	Start    time.Time // calendar date of tick 0

	Ended       vtime.Tick
	Interrupted bool // it was stopped before its end

	Verdicts []expect.Verdict
	Hosts    []snap.Host // as they were at the end
	Sent     snap.Sent   // notifications that the cards of all units issued

	Events []Event
	// Unkept counts the events after the first [MaxEvents], which are in the
	// trace only.
	Unkept int
}

// Met says whether every expectation was met.
func (r *Result) Met() bool { return r.count(expect.Met) == len(r.Verdicts) }

func (r *Result) count(state expect.State) int {
	n := 0
	for i := range r.Verdicts {
		if r.Verdicts[i].State == state {
			n++
		}
	}
	return n
}

// Failed is the names of the expectations that were not met, in their order.
func (r *Result) Failed() []string {
	var names []string
	for i := range r.Verdicts {
		if r.Verdicts[i].State != expect.Met {
			names = append(names, r.Verdicts[i].Name)
		}
	}
	return names
}
