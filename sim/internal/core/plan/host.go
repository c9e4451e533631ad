package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// RestartRule says what a host does when its outlet becomes live again.
type RestartRule uint8

// Restart rules.
const (
	RestartOn   RestartRule = iota // boots whenever power returns
	RestartLast                    // boots only if it was not stopped when power went
	RestartOff                     // stays off
)

// Host is one protected machine.
type Host struct {
	Name        string
	Groups      []int // indices into Groups, one for each of its supplies
	Supplies    int   // how many of them have to be live for it to work; 0 counts as 1
	Believed    []int // those that the card was told of; nil: Groups
	Line        int   // output line that feeds it, from 1; 0: spread over all lines
	DrawW       float64
	IdleW       float64 // drawn while stopped with the outlet live
	PowerFactor float64
	HoldUp      vtime.Tick // longest gap it rides through
	Stop        vtime.Tick
	Boot        vtime.Tick
	Needs       []int // indices of hosts that it needs while it runs and stops
	Restart     RestartRule
	Process     []string // program and arguments; empty: modelled
	Hangs       bool     // never finishes stopping
	Channel     snap.Channel
	Wired       *Wired // it also stops by a relay of the card; nil: it does not
}

// Wired is a host's input for a contact: it stops once the contact has been in a
// position for a time.
type Wired struct {
	Output int // of the card, from 1
	Closed bool
	For    vtime.Tick
}
