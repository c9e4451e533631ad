package snap

import (
	"ridethrough/sim/internal/core/vtime"
)

// Device is one UPS with its card as the card can know them at one tick. It is
// a plain value: copy it freely, never change one that was published.
type Device struct {
	Tick vtime.Tick // when this was true

	Card    Card
	UPS     UPS
	Battery Battery

	// Input, Output and Bypass hold one line each for a single-phase unit; the
	// first Count entries of Lines are meaningful.
	Input, Output, Bypass Lines

	Outlets  Outlets
	Energy   *Energy // by the meters of the outlets; never changed in place. Nil: there are none
	Probes   Probes
	Contacts Contacts
	Alarms   Alarms
	Test     Test
	Control  Control
	Config   Config
}
