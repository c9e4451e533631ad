package card

import (
	"ridethrough/sim/internal/core/snap"
)

// opened is what SNMP opens under some settings. Cards whose settings are the
// scenario's share the scenario's.
type opened struct {
	under *snap.ManagerSettings
	what  *snap.Access
}

// Access is what SNMP opens now, apart from the communities.
func (c *Card) Access() *snap.Access { return c.access() }

// access is what SNMP opens under the settings in force. It is another one exactly
// when these are: keys are made anew with it.
func (c *Card) access() *snap.Access {
	now := c.inForce.Managers
	switch {
	case c.opened.what != nil && c.opened.under == now:
	case c.opened.what != nil && sameManagers(c.opened.under, now):
		c.opened.under = now
	case sameManagers(c.cfg.Settings.Managers, now):
		c.opened = opened{now, c.cfg.Access}
	default:
		base := c.cfg.Access
		if base == nil {
			base = snap.DefaultAccess()
		}
		c.opened = opened{now, c.inForce.Manager().Access(base)}
	}
	return c.opened.what
}

func sameManagers(a, b *snap.ManagerSettings) bool {
	return a == b || (&snap.Settings{Managers: a}).Same(&snap.Settings{Managers: b})
}
