package snap

import (
	"strings"

	"ridethrough/sim/internal/core/vtime"
)

// OutletGroup is what is set for one outlet group of the unit. The unit itself
// goes by it, so that it counts while the card restarts.
type OutletGroup struct {
	Name        string // the unit's own: it never changes
	Label       string // for people
	Hosts       string // names of the hosts that are believed to be on it, with commas
	ControlPath bool   // it feeds what orders travel over

	OnDelay  vtime.Tick // after the output came on
	OffDelay vtime.Tick // after a shutdown countdown was started; vtime.Never: with the output

	ShedAfter   vtime.Tick // on battery for this long; vtime.Never: no such rule
	ShedRuntime vtime.Tick // on battery with less runtime; 0: no such rule
	ShedPct     uint8      // on battery with less charge; 0: no such rule

	MinPct uint8      // charge below which it does not come on; 0: none
	MinOff vtime.Tick // it stays off for at least this long
}

// RestartGate is what holds the whole output off after an outage.
type RestartGate struct {
	Pct uint8      // charge below which the output does not come on; 0: none
	Off vtime.Tick // it stays off for at least this long
}

// Outlets is what the card knows of its outlet groups and of what hangs on them.
type Outlets struct {
	Roster *Roster // nil: there is nothing
	// One bit for each group of the roster, from the lowest. Live: its outlets are
	// live; Turning: a delay runs after which they are not, or are; Held: somebody
	// ordered it off; Shed: a rule of its own took it off; Short: it waits for charge.
	Live, Turning     uint32
	Held, Shed, Short uint32
	Locked            bool // switching from remote is locked out at the unit

	LoadW [MaxGroups]float32 // that the unit measures on each group
	// TurnsAt is when the first of the delays ends; vtime.Never: none runs.
	TurnsAt vtime.Tick
}

// GroupOrder is an order to switch one group.
type GroupOrder uint8

// Orders. The numbers are those of rtGroupOrder in our own module.
const (
	OrderNone  GroupOrder = 1
	OrderOff   GroupOrder = 2
	OrderOn    GroupOrder = 3
	OrderCycle GroupOrder = 4 // off, and on again by itself
)

var orderNames = []string{"", "none", "off", "on", "cycle"}

// String is a word for o.
func (o GroupOrder) String() string { return nameOf(orderNames, int(o)) }

// GroupOrderByName is the order with that name; ok is false if there is none.
func GroupOrderByName(name string) (o GroupOrder, ok bool) {
	for o := OrderOff; o <= OrderCycle; o++ {
		if o.String() == name {
			return o, true
		}
	}
	return 0, false
}

// GroupCause says why a group is off while the output is on, or what it waits for.
type GroupCause uint8

// Causes.
const (
	CauseNone  GroupCause = iota
	CauseOrder            // somebody ordered it off
	CauseShed             // a rule of its own, or the running countdown
	CauseShort            // it waits for charge
	CauseDelay            // its delay runs
)

// String is a word for c.
func (c GroupCause) String() string {
	return nameOf([]string{"none", "order", "shed", "charge", "delay"}, int(c))
}

// Cause is why the i-th group is as it is.
func (o *Outlets) Cause(i int) GroupCause {
	bit := uint32(1) << i
	switch {
	case o.Held&bit != 0:
		return CauseOrder
	case o.Shed&bit != 0:
		return CauseShed
	case o.Short&bit != 0:
		return CauseShort
	case o.Turning&bit != 0:
		return CauseDelay
	}
	return CauseNone
}

// FreshGroup is a group that follows the output at once and has no rules.
func FreshGroup(name string) OutletGroup {
	return OutletGroup{Name: name, OffDelay: vtime.Never, ShedAfter: vtime.Never}
}

// ControlPathBroken says which group would go off before one that only it lets
// orders reach, or come on after it; "" if none does.
func ControlPathBroken(groups []OutletGroup) string {
	for i := range groups {
		for k := range groups {
			if p, g := &groups[i], &groups[k]; p.ControlPath && !g.ControlPath {
				if column := p.before(g); column != "" {
					return p.Name + "." + column + ": it feeds the control path, which has to be first on and last off, and group " + g.Name + " would be on without it"
				}
			}
		}
	}
	return ""
}

// before is the setting by which p would be off while g is on, "" if none is.
func (p *OutletGroup) before(g *OutletGroup) string {
	switch {
	case p.OnDelay > g.OnDelay:
		return "on-delay"
	case p.OffDelay < g.OffDelay:
		return "off-delay"
	case p.ShedAfter < g.ShedAfter:
		return "shed-after"
	case p.ShedRuntime > g.ShedRuntime:
		return "shed-runtime"
	case p.ShedPct > g.ShedPct:
		return "shed-charge"
	case p.MinPct > g.MinPct:
		return "min-charge"
	case p.MinOff > g.MinOff:
		return "min-off"
	}
	return ""
}

// HostsIn are the names in a list with commas.
func HostsIn(list string) (names []string) {
	for _, name := range strings.Split(list, ",") {
		if name = strings.TrimSpace(name); name != "" {
			names = append(names, name)
		}
	}
	return names
}
