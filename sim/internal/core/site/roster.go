package site

import (
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// newRoster is what the card of p is told of groups, hosts and probes.
func newRoster(p *plan.Plan) *snap.Roster {
	r := &snap.Roster{}
	for i := range p.Groups {
		g := &p.Groups[i]
		r.Groups = append(r.Groups, snap.RosterGroup{Name: g.Name, Mains: g.FromMains, OnDelay: g.OnDelay, OffDelay: g.OffDelay})
	}
	for i := range p.Hosts {
		r.Hosts = append(r.Hosts, rosterHost(p, &p.Hosts[i]))
	}
	for i := range p.Probes {
		q := &p.Probes[i]
		first := len(r.Contacts)
		for k := range q.Contacts {
			r.Contacts = append(r.Contacts, snap.RosterContact{Name: q.Contacts[k].Name, Probe: i})
		}
		r.Probes = append(r.Probes, snap.RosterProbe{
			Temperature: q.Name + " temperature", Humidity: q.Name + " humidity",
			LowCriticalC: q.LowCriticalC, LowWarnC: q.LowWarnC, HighWarnC: q.HighWarnC, HighCriticalC: q.HighCriticalC,
			FirstContact: first, Contacts: len(q.Contacts), HysteresisK: q.HysteresisK, Delay: q.Delay, Every: q.Every,
		})
	}
	return r
}

func rosterHost(p *plan.Plan, h *plan.Host) snap.RosterHost {
	r := snap.RosterHost{Name: h.Name, Supplies: len(h.Groups)}
	var names []string
	for _, g := range h.Groups {
		r.Groups |= 1 << g
		names = append(names, p.Groups[g].Name)
	}
	r.Fed = strings.Join(names, ", ")
	return r
}

// seenOutlets is what the card sees of the groups now: nothing of those past the unit.
func (s *Site) seenOutlets() snap.Outlets {
	o := snap.Outlets{Roster: s.roster}
	for i := range s.groups {
		g := &s.groups[i]
		if g.cfg.FromMains {
			continue
		}
		if g.on {
			o.Live |= 1 << i
		}
		if g.on && g.shedAt != vtime.Never || !g.on && g.onAt != vtime.Never {
			o.Turning |= 1 << i
		}
	}
	return o
}
