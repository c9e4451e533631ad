package budget

import (
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// numbers are what an outage is reckoned with, and what may slip.
type numbers struct {
	policy  plan.Policy
	begin   vtime.Tick // the first order to stop, from the loss of the mains; Never: the policy decides
	low     int        // minutes at which the unit says low battery
	groups  []snap.OutletGroup
	battery plan.Battery
	draw    float64 // times what the hosts draw
	stop    []vtime.Tick
	watts   []float64  // that hosts draw; nil: as planned
	coarse  bool       // long steps do
	boots   bool       // the output came on at the instant of the loss
	margin  vtime.Tick // that the battery has to carry on after the last stop
}

func newNumbers(p *plan.Plan, o *Options) *numbers {
	n := &numbers{
		policy: plan.Policy{Peer: -1, Poll: vtime.Second, Confirm: 1, InOrder: true, OffDelay: vtime.Never},
		begin:  o.Begin, low: p.UPS.LowBatteryMinutes, battery: p.Battery, draw: 1, margin: o.Margin,
	}
	if p.Policy != nil {
		n.policy = *p.Policy
	}
	for i := range p.Groups {
		n.groups = append(n.groups, setGroup(p, i))
	}
	for i := range p.Hosts {
		n.stop = append(n.stop, longer(p.Hosts[i].Stop, o.StopPct))
	}
	return n
}

// setGroup is what the card has in force for group i when the scenario begins.
func setGroup(p *plan.Plan, i int) snap.OutletGroup {
	set := p.OutletGroup(i)
	for _, g := range p.Card.Settings.Groups {
		if g.Name == set.Name {
			return g
		}
	}
	return set
}

// longer is t and pct percent more, rounded up.
func longer(t vtime.Tick, pct float64) vtime.Tick {
	return ceilTick(float64(t) * (1 + pct/100))
}

func ceilTick(v float64) vtime.Tick {
	t := vtime.Tick(v)
	if float64(t) < v {
		t++
	}
	return t
}

func (n *numbers) clone() *numbers {
	c := *n
	c.groups, c.stop = slices.Clone(n.groups), slices.Clone(n.stop)
	return &c
}

// with is a copy that change was made to.
func (n *numbers) with(change func(*numbers)) *numbers {
	c := n.clone()
	change(c)
	return c
}

// believing says whether anything goes by what the unit estimates.
func (n *numbers) believing() bool {
	p := &n.policy
	if n.begin == vtime.Never && (p.RuntimeBelow > 0 || p.ChargeBelow > 0 || p.OnLowBattery) {
		return true
	}
	return slices.ContainsFunc(n.groups, func(g snap.OutletGroup) bool { return g.ShedPct > 0 || g.ShedRuntime > 0 })
}

// decidedAt is when the policy decides by the time on battery alone, at the worst: the
// loss comes just after a poll.
func (n *numbers) decidedAt() vtime.Tick {
	p := &n.policy
	switch {
	case n.begin != vtime.Never:
		return n.begin
	case p.OnBatteryFor == 0:
		return vtime.Never
	}
	polls := (p.OnBatteryFor + p.Poll - 1) / p.Poll
	if p.CardTimer { // which began at the loss and shows whole seconds
		polls = max((p.OnBatteryFor+vtime.Second-1)/vtime.Second*vtime.Second-1, 0) / p.Poll
	}
	return p.Poll * (1 + polls + vtime.Tick(p.Confirm-1))
}

// agreedIn is for how long a trigger has to have held until so many polls as have to
// agree have seen it for certain.
func (n *numbers) agreedIn() vtime.Tick { return n.policy.Poll*vtime.Tick(n.policy.Confirm) + nearly }
