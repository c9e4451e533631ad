package scenario

import (
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// rules are the factory values of a group.
func rules(t *groupTable) plan.Rules {
	return plan.Rules{
		Label: t.Label, ControlPath: t.ControlPath,
		ShedAfter: or(t.ShedAfter, vtime.Tick(0)), ShedRuntime: or(t.ShedRuntime, vtime.Tick(0)), ShedPct: uint8(or(t.ShedPct, 0)),
		MinPct: uint8(or(t.MinPct, 0)), MinOff: t.MinOff,
	}
}

// controlPath refuses groups of which one would be on without what its orders
// travel over.
func (b *builder) controlPath(groups []snap.OutletGroup) error {
	why := snap.ControlPathBroken(groups)
	if why == "" {
		return nil
	}
	name, why, _ := strings.Cut(why, ".")
	column, why, _ := strings.Cut(why, ": ")
	at := b.file.Groups[b.groups[name]]
	return b.src.at(at.at("control_path"), strings.ReplaceAll(column, "-", "_")+" of group "+name+" does not do: "+why, "delays and rules by which no group comes on before it or goes off after it")
}

// outletAction is an order for an outlet group.
func (b *builder) outletAction(t *outletTable) (plan.Action, error) {
	i, ok := b.groups[t.Group]
	if !ok {
		return plan.Action{}, b.missing(t.at("group"), "group", t.Group, b.groupNames())
	}
	if b.plan.Groups[i].FromMains { // who names a group names its unit
		return plan.Action{}, b.src.at(t.at("group"), "group "+t.Group+" is fed past the unit, which cannot switch it", "another group")
	}
	return plan.Action{Kind: plan.ActSwitch, Group: i, Order: t.Order, By: t.By}, nil
}
