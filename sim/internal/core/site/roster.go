package site

import (
	"slices"
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// newRoster is what the card of p is told of groups, hosts and probes.
func newRoster(p *plan.Plan) *snap.Roster {
	r := &snap.Roster{}
	for i := range p.Groups {
		r.Groups = append(r.Groups, rosterGroup(p, i, p.OutletGroup(i)))
	}
	for i := range p.Hosts {
		r.Hosts = append(r.Hosts, rosterHost(p, &p.Hosts[i], p.Hosts[i].Told()))
	}
	set := &p.Card.Settings.Surroundings
	return withSurroundings(r, set, func(set *snap.Surroundings, i int) vtime.Tick {
		for k := range p.Probes {
			if set.BySocket && k == i || !set.BySocket && p.Probes[k].ID == set.Probes[i].ID {
				return p.Probes[k].Every
			}
		}
		return 0
	})
}

// withSurroundings is r with the probes and contacts of those settings, the contacts
// in the order of the probes and their inputs.
func withSurroundings(r *snap.Roster, set *snap.Surroundings, every func(*snap.Surroundings, int) vtime.Tick) *snap.Roster {
	n := *r
	n.Probes, n.Contacts = nil, nil
	for i := range set.Probes {
		q := snap.RosterProbe{
			ProbeSetting: set.Probes[i], Temperature: set.Probes[i].Name + " temperature", Humidity: set.Probes[i].Name + " humidity",
			FirstContact: len(n.Contacts), Every: every(set, i),
		}
		q.ID = ""
		for input := 1; input <= snap.ContactInputs; input++ {
			for k := range set.Contacts {
				if c := &set.Contacts[k]; c.Probe == q.Name && c.Input == input {
					n.Contacts = append(n.Contacts, snap.RosterContact{ContactSetting: *c, At: i})
				}
			}
		}
		q.Contacts = len(n.Contacts) - q.FirstContact
		n.Probes = append(n.Probes, q)
	}
	return &n
}

func rosterGroup(p *plan.Plan, i int, set snap.OutletGroup) snap.RosterGroup {
	return snap.RosterGroup{
		Name: set.Name, Label: set.Label, Hosts: set.Hosts, Mains: !p.Feeds(i),
		OnDelay: set.OnDelay, OffDelay: set.OffDelay,
	}
}

// rosterHost is h as it is believed to hang on groups.
func rosterHost(p *plan.Plan, h *plan.Host, groups []int) snap.RosterHost {
	r := snap.RosterHost{Name: h.Name, Supplies: len(groups)}
	var names []string
	for _, g := range groups {
		r.Groups |= 1 << g
		names = append(names, p.Groups[g].Name)
	}
	r.Fed = strings.Join(names, ", ")
	return r
}

// toldRoster is the roster with the settings of groups, and the probes and contacts
// that it has: that of all sites of the plan if they are those of the factory.
func (s *Site) toldRoster(groups []snap.OutletGroup) *snap.Roster {
	r := *s.factory
	r.Probes, r.Contacts = s.roster.Probes, s.roster.Contacts
	if slices.Equal(groups, s.unset) {
		if same(r.Probes, s.factory.Probes) && same(r.Contacts, s.factory.Contacts) {
			return s.factory
		}
		return &r
	}
	r.Groups, r.Hosts = nil, nil
	for i := range s.groups {
		r.Groups = append(r.Groups, rosterGroup(s.plan, i, *s.groups[i].set))
	}
	for i := range s.plan.Hosts {
		h := &s.plan.Hosts[i]
		r.Hosts = append(r.Hosts, rosterHost(s.plan, h, believedGroups(h, r.Groups)))
	}
	return &r
}

// believedGroups are the groups that list h. Of those past the unit the card knows
// what it was told at first.
func believedGroups(h *plan.Host, groups []snap.RosterGroup) (list []int) {
	for i := range groups {
		g := &groups[i]
		if g.Mains && slices.Contains(h.Told(), i) || !g.Mains && slices.Contains(snap.HostsIn(g.Hosts), h.Name) {
			list = append(list, i)
		}
	}
	return list
}

// seenOutlets is what the card sees of the groups now: nothing of those past the unit.
func (s *Site) seenOutlets() snap.Outlets {
	o := snap.Outlets{Roster: s.roster, Locked: s.locked, TurnsAt: vtime.Never}
	for i := range s.groups {
		g := &s.groups[i]
		if !s.own(i) {
			continue
		}
		set := func(bits *uint32, on bool) {
			if on {
				*bits |= 1 << i
			}
		}
		set(&o.Live, g.on)
		set(&o.Turning, g.on && g.shedAt != vtime.Never || !g.on && min(g.onAt, g.backAt) != vtime.Never)
		set(&o.Held, g.held)
		set(&o.Shed, !g.on && (g.shed || g.weak))
		set(&o.Short, g.short)
		o.LoadW[i] = float32(s.drawn[i])
		if turns := min(g.shedAt, g.onAt, g.backAt); turns < o.TurnsAt {
			o.TurnsAt = turns
		}
	}
	return o
}

// weighGroups sums up what is drawn on each group, in watts.
func (s *Site) weighGroups() {
	clear(s.drawn[:])
	for k := range s.hosts {
		h := &s.hosts[k]
		ups, past := s.outlets(h)
		if ups+past == 0 {
			continue
		}
		share := h.draw() / float64(ups+past)
		for _, i := range h.cfg.Groups {
			if s.groups[i].on {
				s.drawn[i] += share
			}
		}
	}
}

// proveMap notes of each group whether the card believes of it what is so.
func (s *Site) proveMap() {
	for i := range s.groups {
		s.groups[i].wrong = s.groups[i].wrong && !s.minds(i)
	}
	for k := range s.hosts {
		truth := uint32(0)
		for _, i := range s.hosts[k].cfg.Groups {
			truth |= 1 << i
		}
		for i := range s.groups {
			s.groups[i].wrong = s.groups[i].wrong || s.minds(i) && (truth^s.roster.Hosts[k].Groups)&(1<<i) != 0
		}
	}
}

// groupView is a group as it truly is.
func (s *Site) groupView(i int) snap.Group {
	g := &s.groups[i]
	v := snap.Group{Name: g.cfg.Name, On: g.on, LoadW: s.drawn[i], OffAt: g.offAt, WasOff: g.wasOff, Right: !g.wrong}
	if !g.on {
		o := &s.view.Outlets
		if u := s.unit(g.cfg.Unit); u != s { // its view may be of an instant ago
			seen := u.seenOutlets()
			o = &seen
		}
		v.Cause = o.Cause(i)
	}
	return v
}
