package budget

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// outage is the site after the mains were lost at tick 0 for good.
type outage struct {
	f *facts
	n *numbers
	d *drain

	coarse *drain // d in long steps, once it is wanted

	now      vtime.Tick
	charge   charge
	dead     bool // the battery is empty
	nearly   bool // it was all but empty when a load went
	sees     bool // somebody goes by the estimate
	decided  vtime.Tick
	ordered  vtime.Tick // countdown to off; at the very tick of a last stop that has come first
	heldFrom vtime.Tick // the triggers by estimate have held from here on; Never
	hosts    []stopping
	offs     []vtime.Tick // when each group opens; Never: that is not known
	ruled    []vtime.Tick // likewise by its own rules alone, at the decision
	cut      []vtime.Tick // when each host lost its power at work, or nearly; Never
	guessed  []bool       // of each group: it opened by the estimate
	gone     []bool
	loadW    float64
}

func (f *facts) lose(n *numbers) *outage {
	o := &outage{f: f, n: n, d: newDrain(&n.battery), decided: vtime.Never, ordered: vtime.Never, heldFrom: vtime.Never, sees: n.believing()}
	if n.coarse {
		o.d = o.d.striding(longSteps)
	}
	o.hosts, o.gone = make([]stopping, len(f.p.Hosts)), make([]bool, len(f.p.Hosts))
	o.offs, o.cut = make([]vtime.Tick, len(n.groups)), make([]vtime.Tick, len(f.p.Hosts))
	o.guessed = make([]bool, len(n.groups))
	for i := range o.hosts {
		o.hosts[i].told, o.hosts[i].end = vtime.Never, vtime.Never
		o.cut[i], o.gone[i] = vtime.Never, !f.protected(i)
	}
	for g := range o.offs {
		o.offs[g] = vtime.Never
		if !f.p.Groups[g].FromMains {
			o.offs[g] = n.groups[g].ShedAfter
		}
	}
	o.loadW = o.load()
	o.charge = o.d.rested(o.loadW)
	o.settle()
	return o
}

// clone is the same outage, to go on with other numbers.
func (o *outage) clone(n *numbers) *outage {
	c := *o
	c.n = n
	c.hosts, c.offs, c.cut, c.gone = slices.Clone(o.hosts), slices.Clone(o.offs), slices.Clone(o.cut), slices.Clone(o.gone)
	c.guessed = slices.Clone(o.guessed)
	return &c
}

// load is what the outlets draw. A host without an order runs; one that still boots
// draws as much.
func (o *outage) load() (watts float64) {
	for i := range o.hosts {
		switch h := &o.f.p.Hosts[i]; {
		case !o.f.protected(i) || o.opens(i) <= o.now:
		case o.hosts[i].end <= o.now:
			watts += h.IdleW
		case o.n.watts != nil:
			watts += float64(o.n.watts[i] * o.n.draw)
		default:
			watts += float64(h.DrawW * o.n.draw)
		}
	}
	return watts
}

// opens is when host i loses its last outlet.
func (o *outage) opens(i int) (at vtime.Tick) {
	for _, g := range o.f.feeds[i] {
		at = max(at, o.offs[g])
	}
	return at
}

// advance goes on until a tick, or until the battery is empty, which is false.
func (o *outage) advance(until vtime.Tick) bool {
	for o.now < until && !o.dead {
		o.pace(min(o.now+o.d.stride, until, o.due()))
		o.settle()
	}
	return !o.dead
}

// pace goes on to a tick, or to where the battery ends or somebody acts on the
// estimate, whichever comes first.
func (o *outage) pace(to vtime.Tick) {
	next, sight, ok := o.try(to - o.now)
	if present := o.sight(&o.charge); !ok || sight != present {
		same, other := vtime.Tick(0), to-o.now
		for other-same > 1 {
			mid := same + (other-same)/2
			if _, s, ok := o.try(mid); ok && s == present {
				same = mid
			} else {
				other = mid
			}
		}
		to = o.now + other
		next, _, ok = o.try(other)
	}
	o.now, o.charge, o.dead = to, next, !ok
}

// carries says whether the battery would go on for so long.
func (o *outage) carries(dt vtime.Tick) bool {
	_, ok := o.d.after(&o.charge, o.f.batteryW(o.loadW), o.loadW, dt)
	return ok
}

func (o *outage) try(dt vtime.Tick) (next charge, sight uint64, ok bool) {
	next, ok = o.d.after(&o.charge, o.f.batteryW(o.loadW), o.loadW, dt)
	return next, o.sight(&next), ok
}

// due is the next tick at which something happens by the clock.
func (o *outage) due() vtime.Tick {
	next := vtime.Never
	look := func(at vtime.Tick) {
		if at > o.now {
			next = min(next, at)
		}
	}
	if o.decided == vtime.Never {
		look(o.n.decidedAt())
		look(later(o.heldFrom, o.n.agreedIn()))
	}
	if o.sees {
		look(o.charge.next)
	}
	for i := range o.hosts {
		look(o.hosts[i].end)
	}
	for _, at := range o.offs {
		look(at)
	}
	return next
}

// sight is what the policy and the groups go by, one bit each.
func (o *outage) sight(c *charge) (bits uint64) {
	if !o.sees {
		return 0
	}
	if o.decided == vtime.Never && o.n.begin == vtime.Never && o.triggered(c) {
		bits = 1
	}
	for g := range o.n.groups {
		if o.shed(c, &o.n.groups[g]) {
			bits |= 2 << g
		}
	}
	return bits
}

// triggered says whether a trigger of the policy by estimate holds.
func (o *outage) triggered(c *charge) bool {
	p, shown := &o.n.policy, o.d.shownS(c)
	if p.OnLowBattery && (shown <= float64(o.n.low*60) || c.runtimeS < depletedS) {
		return true
	}
	if level := o.f.p.Card.Settings.Conformance; level == snap.ConformBasic || level == snap.ConformSubset {
		return false // the card tells neither runtime nor charge
	}
	unit := vtime.Minute
	if p.MinutesAsSeconds {
		unit = vtime.Second
	}
	runtime := max(1, vtime.Tick(shown)/60) * unit
	return runtime < p.RuntimeBelow || o.d.shownPct(c) < p.ChargeBelow
}

// shed says whether a group goes off by the estimate.
func (o *outage) shed(c *charge, g *snap.OutletGroup) bool {
	return g.ShedRuntime > 0 && o.d.shownS(c) < g.ShedRuntime.Seconds() || o.d.shownPct(c) < float64(g.ShedPct)
}

// settle does all that has fallen due.
func (o *outage) settle() {
	if o.dead {
		o.lights(func(int) bool { return true })
		return
	}
	o.reckon()
	bits := o.sight(&o.charge)
	for g := range o.n.groups {
		if bits&(2<<g) != 0 && !o.f.p.Groups[g].FromMains && o.now < o.offs[g] {
			o.offs[g], o.guessed[g] = o.now, true
		}
	}
	switch {
	case bits&1 == 0:
		o.heldFrom = vtime.Never
	case o.heldFrom == vtime.Never:
		o.heldFrom = o.now
	}
	o.lights(func(i int) bool { return o.opens(i) <= o.now })
	if o.decided == vtime.Never && (o.n.decidedAt() <= o.now || later(o.heldFrom, o.n.agreedIn()) <= o.now) {
		o.decide()
	}
	if load := o.load(); load != o.loadW {
		o.nearly = o.nearly || !o.carries(o.d.unsure(o.now))
		o.loadW, o.charge.next = load, 0
		o.reckon()
	}
}

// reckon brings the estimate up to date.
func (o *outage) reckon() {
	if o.sees && o.charge.next <= o.now {
		o.d.estimate(&o.charge, o.now, o.f, o.loadW)
	}
}

// lights takes the power of hosts.
func (o *outage) lights(out func(i int) bool) {
	for i := range o.hosts {
		if !o.gone[i] && out(i) {
			o.gone[i] = true
			if end := later(o.hosts[i].end, o.about(i)); end > o.now || end == o.now && o.ordered < end {
				o.cut[i] = o.now
			}
		}
	}
}

// about is how exactly it is known when host i loses its power.
func (o *outage) about(i int) vtime.Tick {
	for _, g := range o.f.feeds[i] {
		if o.guessed[g] && o.offs[g] == o.now {
			return nearly
		}
	}
	return 0
}

// decide has the policy begin.
func (o *outage) decide() {
	o.decided = o.now
	var done vtime.Tick
	o.hosts, done = o.f.chain(o.n, o.now, o.gone)
	o.ordered = o.n.ordersOff(o.now, done)
	for i := range o.hosts {
		if o.gone[i] {
			o.hosts[i].told, o.hosts[i].end = vtime.Never, vtime.Never
		}
	}
	o.ruled = slices.Clone(o.offs)
	for g, at := range o.f.offs(o.n, o.ordered) {
		o.offs[g] = min(o.offs[g], at)
	}
}
