package snap

import "ridethrough/sim/internal/core/vtime"

// Upkeep is what is set for journals and battery. It never changes once it is in
// settings that are shared.
type Upkeep struct {
	Events, System int        // entries that each journal keeps
	DataEvery      vtime.Tick // between two entries of the data log; 0: it is off
	DataEntries    int        // that it keeps
	DataLeft       DataSet    `json:",omitempty"` // left out of it
	// LeastBad is how long the input has to be out of tolerance before that counts.
	LeastBad vtime.Tick `json:",omitempty"`

	Replaced string // when the battery was last replaced, as 2006-01-02; empty: never
	Packs    int    // battery packs of the unit
	Life     int    // years that a battery is planned to serve; 0: nobody has planned
}

// Commands of upkeep.
const (
	OpEnergyReset Op = "energy-reset" // the meters of the groups to 0
	OpHealthReset Op = "health-reset" // the battery was replaced: forget what was found of the old one
)

// The bounds are ours: the least still holds an outage, the most a chattering one.
const (
	LeastJournal, MostJournal = 50, 5000
	LeastData, MostData       = 50, 20000
)

// factoryUpkeep is small: a fleet has thousands of cards.
var factoryUpkeep = Upkeep{Events: 256, System: 256, DataEntries: 1000, Packs: 1}

// Upkept is what s says of upkeep.
func (s *Settings) Upkept() Upkeep {
	if s.Upkeep == nil {
		return factoryUpkeep
	}
	return *s.Upkeep
}

// SetUpkeep puts u into s. What the factory sets takes no room.
func (s *Settings) SetUpkeep(u Upkeep) {
	if u == factoryUpkeep {
		s.Upkeep = nil
		return
	}
	s.Upkeep = &u
}

// Entries is how many entries a journal keeps.
func (u Upkeep) Entries(k JournalKind) int {
	if k == JournalEvents {
		return u.Events
	}
	return u.System
}
