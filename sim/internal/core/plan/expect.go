package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Cond is a type-checked expression over what the bench sees. Show prints the
// variables it looks at with their values, for a verdict; it may be nil.
type Cond struct {
	Text string
	Eval func(*snap.Site) bool
	Show func(*snap.Site) string
}

// ExpectForm is the temporal form of an expectation.
type ExpectForm uint8

// Forms.
const (
	AtEnd      ExpectForm = iota // holds when the run ends
	Always                       // holds at every step of its window
	NeverHolds                   // holds at no step of its window
	Once                         // becomes true exactly once in its window
	At                           // holds at Time
	By                           // becomes true at Time or before
	Within                       // becomes true within Time after After first held
)

// Expect is one expectation. After and Until bound its window: from the first
// tick at which After holds to the first tick from there at which Until holds.
type Expect struct {
	Line         int
	Name         string
	Form         ExpectForm
	That         Cond
	Time         vtime.Tick
	After, Until *Cond
}
