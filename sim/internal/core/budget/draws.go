package budget

import (
	"math"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/vtime"
)

// Draw is what the hosts of one draw do.
type Draw struct {
	Stops []vtime.Tick // how long each takes to stop
	Watts []float64    // what each draws; nil: as planned
}

// Draws are count times the stop times of all hosts of p, of which each varies by
// itself between what the plan says, which is the most likely, and spreadPct percent
// more, which never comes: the density falls in a straight line (triangular
// distribution; a rule of ours, for want of measurements). A host draws from a stream of
// its own name, so that another host more changes nothing for it.
func Draws(p *plan.Plan, stopPct, spreadPct float64, count int) []Draw {
	draws := make([]Draw, count)
	for k := range draws {
		draws[k].Stops = make([]vtime.Tick, len(p.Hosts))
	}
	for i := range p.Hosts {
		stream := rng.Stream(p.Seed, "budget/stop/"+p.Hosts[i].Name)
		stop := float64(longer(p.Hosts[i].Stop, stopPct))
		for k := range draws {
			u := float64(float64(stream.Uint64()>>11) / (1 << 53))
			late := float64(spreadPct / 100 * (1 - math.Sqrt(1-u)))
			draws[k].Stops[i] = ceilTick(float64(stop * float64(1+late)))
		}
	}
	return draws
}

// DrawOf is the draw that another plan of the same site is.
func DrawOf(p *plan.Plan, stopPct float64) (d Draw) {
	for i := range p.Hosts {
		d.Stops = append(d.Stops, longer(p.Hosts[i].Stop, stopPct))
		d.Watts = append(d.Watts, p.Hosts[i].DrawW)
	}
	return d
}

// Differ says whether any two of draws are not the same.
func Differ(draws []Draw) bool {
	return slices.ContainsFunc(draws, func(d Draw) bool {
		return !slices.Equal(d.Stops, draws[0].Stops) || !slices.Equal(d.Watts, draws[0].Watts)
	})
}
