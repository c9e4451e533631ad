package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TicketRule says what makes a new ticket about an alarm.
type TicketRule uint8

// Ticket rules.
const (
	TicketByCondition TicketRule = iota // the condition, unless it was there a short time ago
	TicketByRow                         // wrong on purpose: every row of the alarm table
	TicketOnce                          // wrong on purpose: the first one alone
)

// Monitor is the modelled monitoring manager: software on the network that polls
// the card, hears its notifications, and tells people.
type Monitor struct {
	Peer      int        // machine that it runs on; -1: one that the card always reaches while it has an address
	Client               // how it asks
	Poll      vtime.Tick // between polls
	Timeout   vtime.Tick // of one request
	Retries   int        // of a request that is not answered
	Objects   int        // that it asks for in one poll
	AtOnce    int        // objects in one request
	LostAfter int        // polls in a row without an answer that make an alert
	LowCharge float64    // percent; an alert below it

	SilenceIsFine bool // wrong on purpose: a card that does not answer is no alert
	GapsAreZero   bool // wrong on purpose: what was not answered is written down as 0
	AwaitClear    bool // wrong on purpose: an alert is closed by a notification alone
	InTurn        bool // wrong on purpose: other cards wait until this one has answered or timed out

	FallIsRestart bool // wrong on purpose: a sysUpTime that is less than before is a restart, whatever it was before
	FallIsWrap    bool // wrong on purpose: a counter that is less than before has wrapped, restart or not

	NoDiscovery bool // wrong on purpose: an engine that has once been discovered never is again
	ByEngineID  bool // wrong on purpose: time and boots of an engine are kept by its ID, wherever it is
	// The other card that it polls after this one; a card with the quirk shared-engine-id
	// has the same ID.
	Neighbour      bool
	NeighbourBoots uint32
	NeighbourUp    vtime.Tick // how long that has been running at tick 0

	Tickets []snap.AlarmKind // alarms that are worth one
	Ticket  TicketRule
	Quiet   vtime.Tick // a condition that comes back within it is the same ticket
}
