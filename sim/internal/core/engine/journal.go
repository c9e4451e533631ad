package engine

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Entry is one accepted command: when, in which order, what.
type Entry struct {
	Tick    vtime.Tick   `json:"tick"`
	Seq     uint64       `json:"seq"`
	Command snap.Command `json:"command"`
}

// Replay runs e to end, putting each entry of the journal to it at its tick,
// and gives every frame to each. End is the tick at which the recorded session
// stopped.
func Replay(e *Engine, journal []Entry, end vtime.Tick, each func(Frame)) {
	for _, entry := range journal {
		run(e, entry.Tick, each)
		_, f := e.Do(entry.Command)
		each(f)
	}
	run(e, end, each)
}

// run moves e to the tick to and gives every frame to each.
func run(e *Engine, to vtime.Tick, each func(Frame)) {
	for e.Now() < to {
		each(e.Step(to))
	}
}

// Run plays e to the end of its plan and gives every frame to each.
func Run(e *Engine, each func(Frame)) { run(e, e.plan.RunFor, each) }
