package snap

import "ridethrough/sim/internal/core/vtime"

// Roster is what the card was told of groups, hosts and probes. It never changes:
// other settings make another one. Sites of one plan with the same settings share it.
type Roster struct {
	Groups []RosterGroup
	Hosts  []RosterHost
	Probes []RosterProbe // as many as the card has probes
	// Contacts stand in the order of their probes, and of their inputs.
	Contacts []RosterContact
}

// RosterGroup is one outlet group.
type RosterGroup struct {
	Name  string
	Label string
	Hosts string // names of the hosts that are believed to be on it, with commas
	// Mains: fed past the unit, so that the card does not know how it is.
	Mains    bool
	OnDelay  vtime.Tick
	OffDelay vtime.Tick // vtime.Never: it goes off with the output
}

// RosterHost is one host.
type RosterHost struct {
	Name     string
	Fed      string // names of the groups that feed it, with commas
	Groups   uint32 // the same, one bit for each group
	Supplies int
}

// RosterProbe is what was set for one probe, without its id, which differs in a
// fleet.
type RosterProbe struct {
	ProbeSetting
	// Names of its sensors.
	Temperature, Humidity string
	FirstContact          int        // in the roster
	Contacts              int        // how many follow
	Every                 vtime.Tick // between two measurements; 0: not known
}

// GroupState is how an outlet group is, as its card knows it.
type GroupState uint8

// Group states.
const (
	GroupOn GroupState = iota + 1
	GroupOff
	GroupTurningOn  // off, its delay runs
	GroupTurningOff // on, its delay runs
	GroupUnknown    // fed past the unit
)

// Group is the state of the i-th group of the roster.
func (o *Outlets) Group(i int) GroupState {
	live, turning := o.Live&(1<<i) != 0, o.Turning&(1<<i) != 0
	switch {
	case o.Roster.Groups[i].Mains:
		return GroupUnknown
	case live && turning:
		return GroupTurningOff
	case live:
		return GroupOn
	case turning:
		return GroupTurningOn
	}
	return GroupOff
}

// String is a word for g.
func (g GroupState) String() string {
	return nameOf([]string{"", "on", "off", "turning-on", "turning-off", "unknown"}, int(g))
}
