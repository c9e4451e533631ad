package plan

import "ridethrough/sim/internal/core/vtime"

// Room is the air and the equipment around the unit, as one lump of heat.
type Room struct {
	TempC     float64    // at tick 0
	OutsideC  float64    // behind its walls
	HeatJPerK float64    // of air and equipment together
	LeakWPerK float64    // through its walls
	RelHumPct float64    // relative humidity at tick 0; the moisture in the air stays
	CoolingW  float64    // the most that the cooling takes away; 0: there is none
	SetpointC float64    // that the cooling holds
	OwnSupply bool       // the cooling works whatever the supply does
	CoolAfter vtime.Tick // how long the cooling stays away after its supply returned
	OtherW    float64    // heat of what is not in the scenario: people, lamps
}

// Probe is one environmental probe in the room.
type Probe struct {
	Name     string
	Every    vtime.Tick // between two measurements
	Lag      vtime.Tick // time constant of its body
	NoiseK   float64    // largest error of one measurement, either way
	OffsetK  float64    // that its place differs from the room
	Humidity bool       // it measures that too

	// Limits in degrees Celsius; infinite: none. HysteresisK is how far back inside a
	// limit the reading must come, Delay how long it must stay outside.
	LowCriticalC, LowWarnC   float64
	HighWarnC, HighCriticalC float64
	HysteresisK              float64
	Delay                    vtime.Tick

	Contacts []Contact
}

// Contact is a dry contact at a probe.
type Contact struct {
	Name       string
	Closes     bool       // closing is what it reports; else opening
	Supervised bool       // a cut loop is told from an open contact
	Debounce   vtime.Tick // how long it must stay as it is before it counts
}

// Wire is what a contact and its loop are like.
type Wire uint8

// Wires.
const (
	WireOpen Wire = iota
	WireClosed
	WireCut
)
