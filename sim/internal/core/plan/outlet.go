package plan

import (
	"slices"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Group is one outlet group.
type Group struct {
	Name    string
	OnDelay vtime.Tick // after the output came on
	// OffDelay sheds the group this long after a shutdown countdown was started;
	// vtime.Never (the default): it opens with the output.
	OffDelay vtime.Tick
	// FromMains: fed by the site's supply itself, past the UPS. Such a group is
	// live whenever the supply is; the delays mean nothing to it.
	FromMains bool
	Unit      int // which of the site's units feeds it, from 0
	Inrush    Inrush
	Rules
}

// Rules are the factory values of what an outlet group goes by beside its delays.
// What is 0 is not used.
type Rules struct {
	Label       string
	ControlPath bool
	ShedAfter   vtime.Tick
	ShedRuntime vtime.Tick
	ShedPct     uint8
	MinPct      uint8
	MinOff      vtime.Tick
}

// OutletGroup is what the card comes with for the i-th group.
func (p *Plan) OutletGroup(i int) snap.OutletGroup {
	g := &p.Groups[i]
	set := snap.OutletGroup{
		Name: g.Name, Label: g.Label, Hosts: strings.Join(p.believedOn(i), ", "), ControlPath: g.ControlPath,
		OnDelay: g.OnDelay, OffDelay: g.OffDelay, ShedAfter: vtime.Never, ShedRuntime: g.ShedRuntime, ShedPct: g.ShedPct,
		MinPct: g.MinPct, MinOff: g.MinOff,
	}
	if g.ShedAfter > 0 {
		set.ShedAfter = g.ShedAfter
	}
	return set
}

// Feeds says whether this unit feeds group i.
func (p *Plan) Feeds(i int) bool { return !p.Groups[i].FromMains && p.Groups[i].Unit == p.Unit }

// LeastSupplies is how many of its supplies have to be live for h to work, at least 1.
func (h *Host) LeastSupplies() int { return max(1, h.Supplies) }

// OutletGroups are those of all groups that the unit feeds.
func (p *Plan) OutletGroups() (list []snap.OutletGroup) {
	for i := range p.Groups {
		if p.Feeds(i) {
			list = append(list, p.OutletGroup(i))
		}
	}
	return list
}

// Told are the groups that the card was told feed h.
func (h *Host) Told() []int {
	if h.Believed != nil {
		return h.Believed
	}
	return h.Groups
}

// mostHosts is how long the list of the hosts on a group can be: a DisplayString.
const mostHosts = 255

// believedOn are the names of the hosts that the card was told are on group i, as
// many as there is room for.
func (p *Plan) believedOn(i int) (names []string) {
	length := 0
	for k := range p.Hosts {
		h := &p.Hosts[k]
		if length += len(h.Name) + 2; length > mostHosts {
			return names
		}
		if slices.Contains(h.Told(), i) {
			names = append(names, h.Name)
		} else {
			length -= len(h.Name) + 2
		}
	}
	return names
}
