package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Update is one step of an update of the card's firmware.
type Update struct {
	Do      string        // "load", "switch" or "return"
	Release *snap.Release // of the image to load
	Fault   string        // what is wrong with the image; see core/image; "": nothing
	Takes   vtime.Tick    // until it has arrived
}

// Release is an image of the card's firmware that the scenario has, by its name
// there.
type Release struct {
	Name string
	snap.Release
}
