package budget

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/vtime"
)

// Kind says what a [Setting] is, and what it is counted in.
type Kind uint8

// Settings.
const (
	OnBatteryFor Kind = iota // the trigger by time on battery, in seconds: at most
	LowBattery               // low-battery time in minutes, as the only trigger: at least
	OffDelay                 // countdown that the policy orders, in seconds: at least
	GroupDelay               // off delay of a group, in seconds: at least
	MinCharge                // for restart, in percent, with all hosts at work at the second loss: at least
	MinBooting               // likewise with all hosts at the beginning of their start
)

// Setting is what a setting of the site has to be. Needed is -1 if no value helps, AsSet
// if it is not set.
type Setting struct {
	Kind   Kind
	Group  int // of GroupDelay
	AsSet  int64
	Needed int64
	Write  int64 // of LowBattery: what a write of Needed becomes, -1 if the unit takes none that long
	Used   bool  // something goes by it
	OK     bool
}

// The scales on which settings and numbers are looked for end after a day.
const (
	mostSeconds = 24 * 3600
	mostMinutes = 24 * 60
)

func (r *reckoner) settings(n *numbers) (list []Setting) {
	if n.begin == vtime.Never {
		list = append(list, r.onBatteryFor(n), r.lowBattery(n), r.offDelay(n))
		list = append(list, r.groupDelays(n)...)
	}
	return append(list, r.minCharge(n, MinCharge), r.minCharge(n, MinBooting))
}

// alone is n with no trigger.
func alone(n *numbers) *numbers {
	return n.with(func(n *numbers) {
		p := &n.policy
		p.OnBatteryFor, p.RuntimeBelow, p.ChargeBelow, p.OnLowBattery = 0, 0, 0, false
	})
}

func (r *reckoner) onBatteryFor(n *numbers) Setting {
	s := Setting{Kind: OnBatteryFor, AsSet: -1, Needed: -1, Used: n.policy.OnBatteryFor > 0}
	if n.policy.OnBatteryFor > 0 {
		s.AsSet = int64(n.policy.OnBatteryFor / vtime.Second)
	}
	only := alone(n)
	holds := func(seconds int64) bool {
		only.policy.OnBatteryFor = vtime.Tick(seconds) * vtime.Second
		return r.holds(only)
	}
	if holds(1) {
		s.Needed = last(1, mostSeconds, holds)
	}
	s.OK = s.AsSet >= 0 && s.AsSet <= s.Needed
	return s
}

func (r *reckoner) lowBattery(n *numbers) Setting {
	s := Setting{Kind: LowBattery, AsSet: int64(n.low), Needed: -1, Write: -1, Used: n.policy.OnLowBattery}
	only := alone(n)
	only.policy.OnLowBattery = true
	holds := func(minutes int64) bool {
		only.low = int(minutes)
		return r.holds(only)
	}
	if s.Needed = first(1, mostMinutes, holds); s.Needed >= 0 {
		if s.Write = int64(device.SupportedLowMinutes(int(s.Needed))); s.Write < s.Needed {
			s.Write = -1
		}
	}
	s.OK = s.Needed >= 0 && s.AsSet >= s.Needed
	return s
}

// offDelay: the countdown has to outlast the last host by something, for at the same
// instant the outlet is first.
func (r *reckoner) offDelay(n *numbers) Setting {
	s := Setting{Kind: OffDelay, Used: true, AsSet: int64(n.policy.OffDelay / vtime.Second)}
	s.Needed = first(0, mostSeconds, func(seconds int64) bool {
		return r.outlasts(n.with(func(n *numbers) { n.policy.OffDelay = vtime.Tick(seconds) * vtime.Second }), -1)
	})
	s.OK = s.Needed >= 0 && s.AsSet >= s.Needed
	return s
}

func (r *reckoner) groupDelays(n *numbers) (list []Setting) {
	for g := range n.groups {
		if n.groups[g].OffDelay == vtime.Never || r.f.p.Groups[g].FromMains {
			continue
		}
		s := Setting{Kind: GroupDelay, Group: g, Used: true, AsSet: int64(n.groups[g].OffDelay / vtime.Second)}
		s.Needed = first(0, mostSeconds, func(seconds int64) bool {
			return r.outlasts(n.with(func(n *numbers) { n.groups[g].OffDelay = vtime.Tick(seconds) * vtime.Second }), g)
		})
		s.OK = s.Needed >= 0 && s.AsSet >= s.Needed
		list = append(list, s)
	}
	return list
}

// outlasts says whether the countdown, or the delay of a group alone if that is not -1,
// leaves every host the time to stop, in the share of draws that is asked for.
func (r *reckoner) outlasts(n *numbers, group int) bool {
	draws := r.draws
	if len(draws) == 0 {
		draws = []Draw{{Stops: n.stop}}
	}
	may := r.mayFail()
	for _, d := range draws {
		n.stop = d.Stops
		if !r.f.leaves(n, group) {
			if may--; may < 0 {
				return false
			}
		}
	}
	return true
}

func (f *facts) leaves(n *numbers, group int) bool {
	gone := make([]bool, len(f.p.Hosts))
	for i := range gone {
		gone[i] = !f.protected(i)
	}
	hosts, done := f.chain(n, 0, gone)
	ordered := n.ordersOff(0, done)
	offs := f.offs(n, ordered)
	for i := range hosts {
		for _, g := range f.feeds[i] {
			at := offs[g]
			if group < 0 {
				at = later(ordered, wholeSeconds(n.policy.OffDelay))
			}
			late := hosts[i].end > at || hosts[i].end == at && ordered < at
			if (group < 0 || g == group) && !gone[i] && late {
				return false
			}
		}
	}
	return true
}

// minCharge is the charge of a battery at rest that carries the whole chain once more.
func (r *reckoner) minCharge(n *numbers, kind Kind) Setting {
	s := Setting{Kind: kind, Used: true, AsSet: int64(n.policy.MinCharge)}
	s.AsSet = max(s.AsSet, int64(r.f.p.Card.Settings.Restart.Pct))
	s.Needed = first(0, 100, func(pct int64) bool {
		return r.holds(n.with(func(n *numbers) {
			n.battery.ChargePct, n.boots = float64(pct), kind == MinBooting
		}))
	})
	s.OK = s.Needed >= 0 && s.AsSet >= s.Needed
	return s
}

// latest is the latest first order with which every host is clean.
func (r *reckoner) latest(n *numbers) vtime.Tick {
	only := alone(n)
	holds := func(at int64) bool {
		only.begin = vtime.Tick(at)
		return r.clean(only)
	}
	if !holds(0) {
		return vtime.Never
	}
	return vtime.Tick(last(0, int64(mostSeconds*vtime.Second), holds))
}

// first is the least of lo to hi for which holds, -1 for none. What holds for one holds
// for all above it.
func first(lo, hi int64, holds func(int64) bool) int64 {
	if !holds(hi) {
		return -1
	}
	for lo < hi {
		if mid := lo + (hi-lo)/2; holds(mid) {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo
}

// last is the greatest of lo, for which holds, to hi. What holds for one holds for all
// below it.
func last(lo, hi int64, holds func(int64) bool) int64 {
	for lo < hi {
		if mid := lo + (hi-lo+1)/2; holds(mid) {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	return lo
}
