package plan

import (
	"encoding/hex"

	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/vtime"
)

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

// Probe is one environmental probe in the room, and the place where it hangs. What
// the card makes of it are settings of the card.
type Probe struct {
	Name       string
	ID         string     // that stands on it; see [Member.ProbeID]
	IDFromSeed bool       // it was derived, and so will be that of every device of a fleet
	Every      vtime.Tick // between two measurements
	Lag        vtime.Tick // time constant of its body
	NoiseK     float64    // largest error of one measurement, either way
	OffsetK    float64    // that its place differs from the room
	Humidity   bool       // it measures that too
	Fahrenheit bool       // it was built to report that, in tenths
	Out        bool       // it is not plugged in at first

	Contacts []Contact
}

// ProbeID is what stands on the probe of that name if nothing was set.
func ProbeID(seed uint64, name string) string {
	key := rng.Key(seed, "probe id/"+name)
	return hex.EncodeToString(key[:4])
}

// ProbeID is what stands on p at that site.
func (m *Member) ProbeID(p *Probe) string {
	if p.IDFromSeed {
		return ProbeID(m.Seed, p.Name)
	}
	return p.ID
}

// Contact is a dry contact that is wired to a probe.
type Contact struct {
	Name       string
	Closes     bool // closing is what it reports; else opening
	Supervised bool // a resistor ends its loop
}

// Wire is what a contact and its loop are like.
type Wire uint8

// Wires.
const (
	WireOpen Wire = iota
	WireClosed
	WireCut
)
