package budget

import (
	"cmp"
	"iter"
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// sortDraws puts the draws with the longest chains first, so that what does not hold is
// soon known.
func (r *reckoner) sortDraws(n *numbers) {
	type drawn struct {
		Draw
		ends vtime.Tick
	}
	var list []drawn
	for _, draw := range r.o.Draws {
		d := drawn{Draw: draw}
		hosts, _ := r.f.chain(n.with(func(n *numbers) { n.stop = draw.Stops }), 0, make([]bool, len(draw.Stops)))
		for i := range hosts {
			d.ends = max(d.ends, hosts[i].end)
		}
		list = append(list, d)
	}
	slices.SortStableFunc(list, func(a, b drawn) int { return cmp.Compare(b.ends, a.ends) })
	for _, d := range list {
		r.draws = append(r.draws, d.Draw)
	}
}

// drawn are the outages of all draws. Where only stop times vary they have the way to
// the first order in common.
func (r *reckoner) drawn(n *numbers) iter.Seq[*outage] {
	return func(yield func(*outage) bool) {
		o := r.f.lose(n)
		o.toDecision()
		for i := range r.draws {
			next := o
			if d := &r.draws[i]; d.Watts != nil {
				next = r.f.lose(n.drawing(d))
			} else if !o.dead {
				next = o.redrawn(n.drawing(d))
			}
			if !yield(next) {
				return
			}
		}
	}
}

// drawing is n with a draw, reckoned in long steps.
func (n *numbers) drawing(d *Draw) *numbers {
	c := *n
	c.stop, c.watts, c.coarse = d.Stops, d.Watts, true
	return &c
}

// mayFail is of how many draws the hosts need not be clean.
func (r *reckoner) mayFail() int {
	const rounding = 1e-9
	return int(float64(float64(len(r.draws))*(1-r.o.Share)) + rounding)
}

// share is in how many draws every host is clean.
func (r *reckoner) share(c *Condition, n *numbers) float64 {
	n = r.in(c, n)
	if len(r.draws) == 0 {
		return float64(b2i(r.f.lose(n).clean()))
	}
	clean := 0
	for o := range r.drawn(n) {
		clean += b2i(o.clean())
	}
	return float64(clean) / float64(len(r.draws))
}

// redrawn is o at its decision, with other numbers from there on.
func (o *outage) redrawn(n *numbers) *outage {
	c := o.clone(n)
	c.offs = slices.Clone(o.ruled)
	if o.coarse == nil {
		o.coarse = o.d.striding(longSteps)
	}
	c.d = o.coarse
	c.decide()
	c.settle()
	return c
}
