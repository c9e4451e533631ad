package plan

import "ridethrough/sim/internal/core/vtime"

// Topology is the class of a unit by IEC 62040-3: what its output owes to its
// input.
type Topology uint8

// Topologies.
const (
	VI  Topology = iota // voltage independent: line-interactive
	VFD                 // voltage and frequency dependent: passive standby
	VFI                 // voltage and frequency independent: double conversion
)

// String is the class as the standard writes it.
func (t Topology) String() string { return [...]string{"VI", "VFD", "VFI"}[t] }

// Retransfer is how a unit bears with an input that does not bear its load. One that
// goes bad within Quick of being taken back has refused the load. When that has
// happened Limit times in a row the input must be good for Hold before it is taken
// back, until it has once carried the load for longer.
type Retransfer struct {
	Quick vtime.Tick
	Limit int // 0: it never learns
	Hold  vtime.Tick
}

// BypassSupply is what feeds a bypass.
type BypassSupply uint8

// Supplies of the bypass.
const (
	BypassInput  BypassSupply = iota // the terminals of the unit's input
	BypassSite                       // the site's supply, past the breaker of the unit's input
	BypassSecond                     // another utility feed
)

// Bypass is the way around the converters: a static switch that the unit closes
// itself, and a switch by hand around the whole unit.
type Bypass struct {
	Fitted bool
	Supply BypassSupply
	// The window in which the bypass may feed the output, in volts and hertz. A
	// double-conversion unit follows the supply's frequency inside it.
	LowV, HighV, LowHz, HighHz float64
	// Gap is the dead time of a change to or from the bypass when the two are not
	// synchronised; 0 when they are.
	Gap vtime.Tick
}

// Overload is how long a way of the power bears more than its rating: t = K/(x^2 - 1)
// for x times the rating. Shares are of the rating; a zero At125 bears all.
type Overload struct {
	At125   vtime.Tick // that it bears 125 %, from cold
	Borne   float64    // share that it bears for ever, 1 or more
	Instant float64    // share that trips it at once
	Cools   vtime.Tick // time constant of cooling down
}

// Converter is the unit as a lump of heat in the room, with its limits in degrees
// Celsius.
type Converter struct {
	HeatJPerK float64
	CoolWPerK float64 // with its fans at work
	NoFan     float64 // share of that without them
	WarnC     float64 // of the unit: alarm
	TripC     float64 // of the unit: converters off
	DerateC   float64 // of the room: the rating falls from here on
	DeratePct float64 // by this many percent a kelvin
}
