package budget

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/phys/power"
)

// facts are what of a plan no number changes.
type facts struct {
	p      *plan.Plan
	loss   power.LossCurve // of the unit on battery
	feeds  [][]int         // of each host: the groups of the unit that feed it
	needed [][]int         // of each host: those that need it
	order  []int           // hosts, each after all that need it
}

func newFacts(p *plan.Plan) *facts {
	f := &facts{p: p, loss: power.LossCurve(p.UPS.BatteryLoss), feeds: make([][]int, len(p.Hosts)), needed: make([][]int, len(p.Hosts))}
	for i := range p.Hosts {
		for _, g := range p.Hosts[i].Groups {
			if !p.Groups[g].FromMains {
				f.feeds[i] = append(f.feeds[i], g)
			}
		}
		for _, n := range p.Hosts[i].Needs {
			f.needed[n] = append(f.needed[n], i)
		}
	}
	f.sort()
	return f
}

// sort fills order. Hosts never need each other in a circle.
func (f *facts) sort() {
	waits := make([]int, len(f.p.Hosts))
	for i := range waits {
		if waits[i] = len(f.needed[i]); waits[i] == 0 {
			f.order = append(f.order, i)
		}
	}
	for k := 0; k < len(f.order); k++ {
		for _, n := range f.p.Hosts[f.order[k]].Needs {
			if waits[n]--; waits[n] == 0 {
				f.order = append(f.order, n)
			}
		}
	}
}

// protected says whether host i is fed by the unit. The others lose their power with
// the mains.
func (f *facts) protected(i int) bool { return len(f.feeds[i]) > 0 }

// batteryW is what the battery gives for a load.
func (f *facts) batteryW(load float64) float64 {
	return load + f.loss.Loss(load, f.p.UPS.RatingW)
}
