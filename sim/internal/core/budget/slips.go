package budget

import (
	"cmp"
	"math"
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// Number says what slips.
type Number uint8

// Numbers that may slip. Times are in seconds.
const (
	StopTime      Number = iota // of Host: longer
	DrawPct                     // what all hosts draw, in percent of the plan: more
	CapacityPct                 // of the battery, in percent of what it is in each condition: less
	ChargePct                   // at the loss of the mains, in percent: less
	Temperature                 // of the battery, in kelvins from what it is in each condition: colder
	BeginAfter                  // the first order from the loss of the mains, or the trigger by time on battery: later
	LowMinutes                  // low-battery time in minutes: less
	PollEvery                   // longer
	HostDeadline                // shorter
	OffCountdown                // that the policy orders: shorter
	GroupOffDelay               // of Group: shorter
)

// Slip is how far one number alone may be worse while the budget still holds.
type Slip struct {
	Number Number
	Host   int  // of StopTime; of the others -1
	Group  int  // of GroupOffDelay; of the others -1
	Begin  bool // BeginAfter is the first order, not the trigger
	Plan   float64
	Limit  float64 // the worst value with which the budget holds
	Never  bool    // that is the end of the scale: it does not break here
	// RoomPct is the room in percent of Plan; +Inf for Never, and of the temperature, which
	// has no share.
	RoomPct float64
	Breaks  int // the host that is not clean first beyond Limit; -1 for Never
}

// slipping is one number with its scale: from 0 steps to most, each of unit.
type slipping struct {
	slip  Slip
	unit  float64 // below 0 for what gets worse by getting less
	most  int64
	apply func(n *numbers, value float64)
}

func (r *reckoner) slips(n *numbers) (list []Slip) {
	if !r.holds(n) {
		return nil
	}
	for _, s := range r.slipping(n) {
		list = append(list, r.slide(n, s))
	}
	slices.SortStableFunc(list, func(a, b Slip) int {
		return cmp.Or(b2i(a.Never)-b2i(b.Never), cmp.Compare(a.RoomPct, b.RoomPct))
	})
	return list
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (r *reckoner) slide(n *numbers, s slipping) Slip {
	at := func(k int64) *numbers {
		return n.with(func(n *numbers) { s.apply(n, s.slip.Plan+float64(float64(k)*s.unit)) })
	}
	steps := last(0, s.most, func(k int64) bool { return r.holds(at(k)) })
	out := s.slip
	out.Limit = out.Plan + float64(float64(steps)*s.unit)
	out.Breaks, out.Never = -1, steps == s.most
	out.RoomPct = math.Inf(1)
	if out.Never {
		return out
	}
	if out.Plan != 0 && out.Number != Temperature {
		out.RoomPct = 100 * math.Abs(out.Limit-out.Plan) / math.Abs(out.Plan)
	}
	out.Breaks = r.breaks(at(steps + 1))
	return out
}

// breaks is the host that is not clean first, with numbers that do not hold. Who has to
// wait for others until the battery is empty counts after those.
func (r *reckoner) breaks(n *numbers) int {
	for i := range r.conditions {
		c := &r.conditions[i]
		if r.holdsIn(c, n) {
			continue
		}
		o := r.f.lose(r.in(c, n))
		o.toDecision()
		for o.pending() && o.advance(o.nextStop()) {
		}
		first, at := -1, vtime.Never
		for i := range o.cut {
			if o.f.protected(i) && (o.cut[i] < at || first < 0 && o.hosts[i].end == vtime.Never) {
				first, at = i, o.cut[i]
			}
		}
		if first >= 0 {
			return first
		}
		return o.lastHost()
	}
	return -1
}

// lastHost is the one that stops last: the first to be cut if the battery or the
// margin is a little short.
func (o *outage) lastHost() int {
	host := -1
	for i := range o.hosts {
		if o.f.protected(i) && (host < 0 || o.hosts[i].end > o.hosts[host].end) {
			host = i
		}
	}
	return host
}

func (r *reckoner) slipping(n *numbers) (list []slipping) {
	add := func(number Number, plan, unit float64, most int64, apply func(n *numbers, value float64)) {
		list = append(list, slipping{Slip{Number: number, Host: -1, Group: -1, Begin: n.begin != vtime.Never, Plan: plan}, unit, most, apply})
	}
	if len(r.draws) == 0 {
		for i := range n.stop {
			if r.f.protected(i) {
				add(StopTime, n.stop[i].Seconds(), 1, mostSeconds, func(n *numbers, v float64) { n.stop[i] = ticks(v) })
				list[len(list)-1].slip.Host = i
			}
		}
	}
	add(DrawPct, 100, 0.1, 9000, func(n *numbers, v float64) { n.draw = v / 100 })
	full := n.battery.Capacity
	add(CapacityPct, 100, -0.1, 999, func(n *numbers, v float64) { n.battery.Capacity = float64(full * v / 100) })
	charge := n.battery.ChargePct
	add(ChargePct, charge, -0.1, int64(10*charge), func(n *numbers, v float64) { n.battery.ChargePct = max(v, 0) })
	ambient := n.battery.AmbientC
	add(Temperature, 0, -0.1, 600, func(n *numbers, v float64) { n.battery.AmbientC = ambient + v })
	r.slipPolicy(n, add)
	for g := range n.groups {
		if d := n.groups[g].OffDelay; n.begin == vtime.Never && d != vtime.Never && !r.f.p.Groups[g].FromMains {
			add(GroupOffDelay, d.Seconds(), -1, int64(d/vtime.Second), func(n *numbers, v float64) { n.groups[g].OffDelay = ticks(v) })
			list[len(list)-1].slip.Group = g
		}
	}
	return list
}

func (r *reckoner) slipPolicy(n *numbers, add func(number Number, plan, unit float64, most int64, apply func(n *numbers, value float64))) {
	p := &n.policy
	if n.begin != vtime.Never {
		add(BeginAfter, n.begin.Seconds(), 1, mostSeconds, func(n *numbers, v float64) { n.begin = ticks(v) })
		return
	}
	if p.OnBatteryFor > 0 {
		add(BeginAfter, p.OnBatteryFor.Seconds(), 1, mostSeconds, func(n *numbers, v float64) { n.policy.OnBatteryFor = ticks(v) })
	}
	if p.OnLowBattery {
		add(LowMinutes, float64(n.low), -1, int64(n.low), func(n *numbers, v float64) { n.low = int(v) })
	}
	add(PollEvery, p.Poll.Seconds(), 1, mostSeconds, func(n *numbers, v float64) { n.policy.Poll = ticks(v) })
	if p.HostDeadline > 0 {
		add(HostDeadline, p.HostDeadline.Seconds(), -1, int64((p.HostDeadline-1)/vtime.Second), func(n *numbers, v float64) { n.policy.HostDeadline = ticks(v) })
	}
	add(OffCountdown, p.OffDelay.Seconds(), -1, int64(p.OffDelay/vtime.Second), func(n *numbers, v float64) { n.policy.OffDelay = ticks(v) })
}

func ticks(seconds float64) vtime.Tick { return vtime.Tick(math.Round(seconds * 1000)) }
