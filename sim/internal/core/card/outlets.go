package card

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// InForce are the settings that the card goes by. They are not to be changed.
func (c *Card) InForce() *snap.Settings { return c.inForce }

// Record tells what somebody did to outlets, if the card is there to tell it.
func (c *Card) Record(now vtime.Tick, text string) {
	if c.Running() {
		c.did(now, true, text)
	}
}

// KeepHeld keeps which outlet groups somebody has ordered off.
func (c *Card) KeepHeld(names []string) {
	if slices.Equal(names, c.kept.Held) {
		return
	}
	c.kept.Held = names
	c.changed(&c.kept.Held)
}

// Held are the outlet groups that were ordered off.
func (c *Card) Held() []string { return c.kept.Held }

// regroup has the settings be about the groups that the unit has: those of kept
// that are still there, in the order of the unit.
func regroup(unit, kept []snap.OutletGroup) []snap.OutletGroup {
	groups := slices.Clone(unit)
	for i := range groups {
		if k := slices.IndexFunc(kept, func(g snap.OutletGroup) bool { return g.Name == groups[i].Name }); k >= 0 {
			groups[i] = kept[k]
		}
	}
	return groups
}
