package card

import (
	"encoding/json"
	"fmt"
	"math"

	"ridethrough/sim/internal/core/snap"
)

// BootsSection is where the host keeps the boots of the devices of a fleet, in the
// memory of the card that they are made after: devices keep nothing else, and a
// memory for each would take more than the device itself.
const BootsSection = "fleet-boots"

// FleetBoots is how often the cards of a fleet have started: the first is that of
// device 1. What is beyond the end has never started.
type FleetBoots []uint32

// run are devices one after the other that have the same boots.
type run struct {
	First int    `json:"first"`
	Last  int    `json:"last"`
	Boots uint32 `json:"boots"`
}

// mostDevices bounds the numbers that a memory may have.
const mostDevices = math.MaxUint16

// BootsIn are the boots of a fleet in a memory; none if raw is nil or has none.
func BootsIn(raw *snap.Memory) (boots FleetBoots, err error) {
	if raw == nil || raw.Sections[BootsSection] == nil {
		return nil, nil
	}
	var runs []run
	if err := snap.DecodeStrict(raw.Sections[BootsSection], &runs); err != nil {
		return nil, fmt.Errorf("section %s: %w", BootsSection, err)
	}
	for _, r := range runs {
		if r.First <= len(boots) || r.Last < r.First || r.Last > mostDevices || r.Boots > math.MaxInt32 {
			return nil, fmt.Errorf("section %s: %d boots of devices %d to %d, after device %d", BootsSection, r.Boots, r.First, r.Last, len(boots))
		}
		boots = boots.reach(r.Last)
		for n := r.First; n <= r.Last; n++ {
			boots[n-1] = r.Boots
		}
	}
	return boots, nil
}

// reach is b with device n in it.
func (b FleetBoots) reach(n int) FleetBoots {
	return append(b, make(FleetBoots, max(0, n-len(b)))...)
}

// Of is how often the card of device n has started.
func (b FleetBoots) Of(n int) uint32 {
	if n > len(b) {
		return 0
	}
	return b[n-1]
}

// Keep is what a host keeps of the boots.
func (b FleetBoots) Keep() *snap.Keep {
	runs := []run{}
	for i, boots := range b {
		switch last := len(runs) - 1; {
		case boots == 0:
		case last >= 0 && runs[last].Last == i && runs[last].Boots == boots:
			runs[last].Last = i + 1
		default:
			runs = append(runs, run{i + 1, i + 1, boots})
		}
	}
	return &snap.Keep{Sections: map[string]json.RawMessage{BootsSection: encode(runs)}}
}

// Raise is b with one more start of the devices from first on.
func (b FleetBoots) Raise(first, count int) FleetBoots {
	b = b.reach(first + count - 1)
	for n := first; n < first+count; n++ {
		b[n-1] = raised(b[n-1])
	}
	return b
}

// raised is the number of the start after that one (RFC 3414 section 2.2:
// snmpEngineBoots stays at its maximum).
func raised(boots uint32) uint32 { return min(boots, math.MaxInt32-1) + 1 }
