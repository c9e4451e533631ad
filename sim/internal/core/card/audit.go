package card

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Told notes who set what in one request over a surface: what is the card's own in
// the system journal, orders to the unit and its settings among the events. Of a
// name only that it was set. A spin lock is no matter of its own, and an outlet
// group is told of where it is switched.
func (c *Card) Told(now vtime.Tick, by snap.Actor, sets []snap.Assignment) {
	var own, unit []string
	for _, a := range sets {
		switch a.Var {
		case snap.VarGroupOrder, snap.VarSnmpSetSerialNo, snap.VarTestSpinLock:
		case snap.VarSysContact, snap.VarSysName, snap.VarSysLocation, snap.VarIdentName, snap.VarAttachedDevices:
			own = append(own, string(a.Var))
		case snap.VarAuthenTraps:
			own = append(own, fmt.Sprintf("%s %d", a.Var, a.Int))
		case snap.VarTestID:
			unit = append(unit, fmt.Sprintf("%s %s", a.Var, snap.TestKind(a.Int)))
		default:
			unit = append(unit, fmt.Sprintf("%s %d", a.Var, a.Int))
		}
	}
	if own != nil {
		c.did(now, false, strings.Join(own, ", ")+" set by "+who(by))
	}
	if unit != nil {
		c.did(now, true, strings.Join(unit, ", ")+" set by "+who(by))
	}
}

// did tells what somebody did: the journal, of what is the unit's among the events, and
// whoever is to hear of it.
func (c *Card) did(now vtime.Tick, unit bool, text string) {
	if unit {
		c.journal.event(now, text)
	} else {
		c.journal.add(now, text)
	}
	c.Hear(snap.EventActed, 0, true, text)
}

// AskedToRestart notes whose wish a restart is.
func (c *Card) AskedToRestart(now vtime.Tick, by snap.Actor) {
	text := "restart ordered by " + who(by)
	c.journal.add(now, text)
	c.hearLast(now, snap.EventActed, text)
}
