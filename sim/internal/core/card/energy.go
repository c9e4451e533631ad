package card

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// KeptEnergy is what the card has written down of the meters.
func (c *Card) KeptEnergy() snap.KeptEnergy { return c.kept.Energy }

// KeepEnergy writes down what the meters show at now.
func (c *Card) KeepEnergy(now vtime.Tick, e snap.KeptEnergy) {
	c.kept.Energy = e
	c.energyKept = now
	c.changed(&c.kept.Energy)
}

// EnergyKept is when that was done last.
func (c *Card) EnergyKept() vtime.Tick { return c.energyKept }

// EnergyReset notes that the meters, which showed used, were set to 0, and says
// when that was by the card's clock.
func (c *Card) EnergyReset(now vtime.Tick, by snap.Actor, used snap.Used) snap.Stamp {
	text := fmt.Sprintf("energy meters set to 0 by %s, they showed %.3f kWh", who(by), used.Wh/1000)
	c.note("card", text)
	c.did(now, false, text)
	return c.clock.Stamp(now)
}

// Keeps says whether somebody keeps the card's memory.
func (c *Card) Keeps() bool { return c.changes.keeps }

// Logged says whether an entry of a log waits to be kept.
func (c *Card) Logged() bool {
	return c.changes.told != c.journal.seq || c.changes.data != c.data.seq()
}

// Changed says whether a part of the memory waits to be kept.
func (c *Card) Changed() bool { return c.changes.sections != 0 || len(c.changes.dropped) > 0 }
