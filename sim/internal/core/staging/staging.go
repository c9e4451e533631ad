package staging

import (
	"cmp"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// Delays are the recommended delays from the output coming on to each group of p
// coming on, in the order of the groups; vtime.Never for those past the unit, which
// nobody switches. The control path is first, then who needs nobody, then who needs
// those, and of two alike the first in the scenario. Two groups are gap apart, or, if
// ready, a group waits until the hosts that its own need have booted.
func Delays(p *plan.Plan, gap vtime.Tick, ready bool) []vtime.Tick {
	delays := make([]vtime.Tick, len(p.Groups))
	for i := range delays {
		delays[i] = vtime.Never
	}
	next := vtime.Tick(0)
	for _, i := range Order(p) {
		delays[i] = next
		if ready {
			delays[i] = max(next, booted(p, i, delays))
		}
		next = delays[i] + gap
	}
	return delays
}

// Order are the groups that the unit switches, the first one to come on first.
func Order(p *plan.Plan) (list []int) {
	depths := depths(p)
	rank := make([]int, len(p.Groups))
	for i := range p.Groups {
		if !p.Groups[i].FromMains {
			list = append(list, i)
		}
		for k := range p.Hosts {
			if slices.Contains(p.Hosts[k].Groups, i) {
				rank[i] = max(rank[i], depths[k])
			}
		}
		if p.Groups[i].ControlPath {
			rank[i] = -1
		}
	}
	slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(rank[a], rank[b]) })
	return list
}

// depths is for each host how many others have to be up one after the other before
// it can be. Hosts never need each other in a circle.
func depths(p *plan.Plan) []int {
	depths := make([]int, len(p.Hosts))
	for again := true; again; {
		again = false
		for k := range p.Hosts {
			for _, n := range p.Hosts[k].Needs {
				if depths[k] <= depths[n] {
					depths[k], again = depths[n]+1, true
				}
			}
		}
	}
	return depths
}

// booted is when all that the hosts on group i need from other groups is up.
func booted(p *plan.Plan, i int, delays []vtime.Tick) (at vtime.Tick) {
	for k := range p.Hosts {
		if !slices.Contains(p.Hosts[k].Groups, i) {
			continue
		}
		for _, n := range p.Hosts[k].Needs {
			if on := firstOn(&p.Hosts[n], delays); on != vtime.Never {
				at = max(at, on+p.Hosts[n].Boot)
			}
		}
	}
	return at
}

// firstOn is when the first outlet of h comes on, as far as that is settled.
func firstOn(h *plan.Host, delays []vtime.Tick) vtime.Tick {
	on := vtime.Never
	for _, g := range h.Groups {
		on = min(on, delays[g])
	}
	return on
}
