package budget

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// Options are what a budget is asked for.
type Options struct {
	Begin   vtime.Tick // the first order to stop, from the loss of the mains; Never: the policy decides
	Margin  vtime.Tick // that the battery has to carry on after the last stop
	StopPct float64    // stop times are reckoned so many percent longer
	Draws   []Draw     // what hosts do instead of what is planned; none: nothing varies
	Share   float64    // of Draws, with which every host has to be clean
}

// What is asked for unless somebody says otherwise: common practice.
const (
	UsualMargin  = vtime.Minute
	UsualStopPct = 25
)

// Budget is what came of it.
type Budget struct {
	Conditions []Reckoning
	Worst      int      // of Conditions: the one with the least to spare
	Troubles   []string // what no number of the budget helps against
	Settings   []Setting
	Slips      []Slip
	Held       float64 // share of draws in which every host was clean, at the worst; 1 or 0 without draws
	Holds      bool
}

// Reckoning is the outage with one condition of the battery. Ticks are from the loss of
// the mains.
type Reckoning struct {
	Condition
	Runtime  vtime.Tick // of the battery if nobody stopped
	Decided  vtime.Tick // the first order to stop; Never: the battery is empty before
	LastStop vtime.Tick // Never: not every host stops
	Latest   vtime.Tick // the latest first order with which every host is clean; Never: there is none
	Spare    vtime.Tick // from Decided to Latest; below 0: so much too late, or as much as there is if nothing helps
	Hosts    []HostRow
	Groups   []GroupRow
	Clean    bool // every host, with the margin; with draws, in the share of them that is asked for
}

// HostRow is one host of a [Reckoning].
type HostRow struct {
	Host  int
	Waits vtime.Tick // for those that need it, from the first order
	Stop  vtime.Tick // that it takes
	Done  vtime.Tick // Never: it does not stop
	Limit vtime.Tick // its outlet opens, or the battery is empty
	Cut   bool
	Clean bool
}

// GroupRow is one outlet group.
type GroupRow struct {
	Group    int
	LastStop vtime.Tick // of a host on it; Never: not every one stops
	Opens    vtime.Tick // Never: with the battery
	Clean    bool
}

// Of is the budget of p, which is one site and has a policy unless o says when it
// begins.
func Of(p *plan.Plan, o *Options) *Budget {
	r := &reckoner{f: newFacts(p), o: o, conditions: Conditions(p)}
	n := newNumbers(p, o)
	r.sortDraws(n)
	b := &Budget{Troubles: troubles(p), Held: 1}
	for i := range r.conditions {
		row := r.reckon(&r.conditions[i], n)
		b.Conditions = append(b.Conditions, row)
		if worse(&row, &b.Conditions[b.Worst]) {
			b.Worst = i
		}
		b.Held = min(b.Held, r.share(&r.conditions[i], n))
	}
	b.Holds = len(b.Troubles) == 0 && r.holds(n)
	b.Settings = r.settings(n)
	b.Slips = r.slips(n)
	return b
}

func worse(a, b *Reckoning) bool {
	if a.Clean != b.Clean {
		return b.Clean
	}
	return a.Spare < b.Spare
}

// reckoner asks outages for what the budget has to say.
type reckoner struct {
	f          *facts
	o          *Options
	conditions []Condition
	draws      []Draw // of o, the longest first
}

// in is n with a condition of the battery. How full it is, and what has slipped, stay.
func (r *reckoner) in(c *Condition, n *numbers) *numbers {
	return n.with(func(n *numbers) {
		charge, capacity := n.battery.ChargePct, n.battery.Capacity/r.f.p.Battery.Capacity
		colder := n.battery.AmbientC - r.f.p.Battery.AmbientC
		n.battery = c.Battery
		n.battery.ChargePct = charge
		n.battery.Capacity = float64(n.battery.Capacity * capacity)
		n.battery.AmbientC += colder
	})
}

// holds says whether every host is clean with n in all conditions, in the share of
// draws that is asked for.
func (r *reckoner) holds(n *numbers) bool {
	hardest := len(r.conditions) / 2
	for k := range r.conditions {
		if c := &r.conditions[(hardest+k)%len(r.conditions)]; !r.holdsIn(c, n) {
			return false
		}
		if r.ordered(n) {
			break
		}
	}
	return true
}

// ordered says whether the old battery in the cold, the first that is looked at, is the
// hardest condition for certain: where nobody goes by an estimate the order to stop comes
// at the same time in all, and lead-acid cells never last longer for being older or
// colder.
func (r *reckoner) ordered(n *numbers) bool { return !n.believing() && n.battery.Management == nil }

func (r *reckoner) holdsIn(c *Condition, n *numbers) bool { return r.clean(r.in(c, n)) }

// clean says whether every host is clean with n, in the share of draws that is asked for.
func (r *reckoner) clean(n *numbers) bool {
	if len(r.draws) == 0 {
		return r.f.lose(n).clean()
	}
	may := r.mayFail()
	for o := range r.drawn(n) {
		if !o.clean() {
			if may--; may < 0 {
				return false
			}
		}
	}
	return true
}

// toDecision goes on to the first order. It is false if the battery is empty before
// that.
func (o *outage) toDecision() bool {
	for o.decided == vtime.Never && o.advance(min(o.now+vtime.Hour, max(o.now+1, o.due()))) {
	}
	return !o.dead
}

// lastStop is when all protected hosts have stopped, Never if not every one does.
func (o *outage) lastStop() (at vtime.Tick) {
	at = o.decided
	for i := range o.hosts {
		if !o.f.protected(i) {
			continue
		}
		if o.cut[i] != vtime.Never {
			return vtime.Never
		}
		at = max(at, o.hosts[i].end)
	}
	return at
}

// clean says whether every host stops before its outlet dies, and the battery carries
// on for the margin after that.
func (o *outage) clean() bool {
	if !o.toDecision() {
		return false
	}
	for at := o.lastStop(); ; {
		if at == vtime.Never {
			return false
		}
		o.advance(at)
		if again := o.lastStop(); o.dead || again == at {
			return !o.dead && !o.nearly && o.empty() > later(at, o.n.margin+o.d.unsure(at))
		}
		at = o.lastStop()
	}
}

// empty is when the battery will be, at the load of now.
func (o *outage) empty() vtime.Tick {
	if o.dead {
		return o.now
	}
	return o.now + o.d.lasts(&o.charge, o.f.batteryW(o.loadW))
}

// reckon plays the outage to the end of the battery.
func (r *reckoner) reckon(c *Condition, n *numbers) Reckoning {
	n = r.in(c, n)
	o := r.f.lose(n)
	row := Reckoning{Condition: *c, Runtime: o.empty()}
	o.toDecision()
	for o.pending() && o.advance(o.nextStop()) {
	}
	row.Decided, row.LastStop = o.decided, o.lastStop()
	row.Hosts, row.Groups = o.hostRows(o.empty()), o.groupRows()
	row.Clean, row.Latest = r.clean(n), r.latest(n)
	begins := min(row.Decided, row.Runtime)
	row.Spare = -begins
	if row.Latest != vtime.Never {
		row.Spare = row.Latest - begins
	}
	return row
}

// pending says whether a host is still on its way down.
func (o *outage) pending() bool { return o.nextStop() != vtime.Never }

func (o *outage) nextStop() vtime.Tick {
	next := vtime.Never
	for i := range o.hosts {
		if at := o.hosts[i].end; !o.gone[i] && at > o.now {
			next = min(next, at)
		}
	}
	return next
}

func (o *outage) hostRows(empty vtime.Tick) (rows []HostRow) {
	for i := range o.hosts {
		if !o.f.protected(i) {
			continue
		}
		h := &o.hosts[i]
		row := HostRow{Host: i, Stop: o.n.stop[i], Done: h.end, Limit: min(empty, o.opens(i)), Cut: o.cut[i] != vtime.Never}
		if h.told != vtime.Never {
			row.Waits = h.told - o.decided
		}
		row.Clean = !row.Cut && row.Done != vtime.Never && row.Done < row.Limit
		rows = append(rows, row)
	}
	return rows
}

func (o *outage) groupRows() (rows []GroupRow) {
	for g := range o.offs {
		if o.f.p.Groups[g].FromMains {
			continue
		}
		row := GroupRow{Group: g, Opens: o.offs[g], Clean: true}
		for i := range o.hosts {
			for _, feed := range o.f.feeds[i] {
				if feed == g {
					row.LastStop = max(row.LastStop, o.hosts[i].end)
					row.Clean = row.Clean && o.cut[i] == vtime.Never && o.hosts[i].end != vtime.Never
				}
			}
		}
		rows = append(rows, row)
	}
	return rows
}
