package card

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// HealthReset notes that the unit was told that its battery is new; it had known
// it at percent of the rated capacity.
func (c *Card) HealthReset(now vtime.Tick, by snap.Actor, percent float64) {
	text := fmt.Sprintf("battery told to be new by %s, it was known at %.0f %% of its rating", who(by), percent)
	c.note("card", text)
	c.did(now, false, text)
}
