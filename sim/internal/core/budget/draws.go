package budget

import (
	"math"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/vtime"
)

// Draws are count times the stop times of all hosts of p, of which each varies by
// itself between what the plan says, which is the most likely, and spreadPct percent
// more, which never comes: the density falls in a straight line (triangular
// distribution; a rule of ours, for want of measurements). A host draws from a stream of
// its own name, so that another host more changes nothing for it.
func Draws(p *plan.Plan, stopPct, spreadPct float64, count int) [][]vtime.Tick {
	draws := make([][]vtime.Tick, count)
	for k := range draws {
		draws[k] = make([]vtime.Tick, len(p.Hosts))
	}
	for i := range p.Hosts {
		stream := rng.Stream(p.Seed, "budget/stop/"+p.Hosts[i].Name)
		stop := float64(longer(p.Hosts[i].Stop, stopPct))
		for k := range draws {
			u := float64(stream.Uint64()>>11) / (1 << 53)
			draws[k][i] = ceilTick(stop * (1 + float64(spreadPct/100*(1-math.Sqrt(1-u)))))
		}
	}
	return draws
}
