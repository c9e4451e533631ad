package snap

import "ridethrough/sim/internal/core/vtime"

// Energy is what the meters of the outlet groups have counted. What a group draws
// only changes at instants, so that between two of them everything follows from
// the last.
type Energy struct {
	At     vtime.Tick // since when the groups draw what they do
	Groups []Meter    // as in the roster; those past the unit have no meter and stand at 0
	Since  Stamp      // of the last reset; 0: there was none
}

// Meter is one group's.
type Meter struct {
	W    float64
	Sum  float64 // Wh at At, since tick 0
	Zero float64 // Sum at the last reset; less than 0 for what was counted in a life before
	Past []EnergyMark
}

// EnergyMark is Sum at an earlier instant at which W changed.
type EnergyMark struct {
	At vtime.Tick
	Wh float64
}

// Used is what a meter shows: watts now and on average over the last hour (or
// since tick 0, if that is less), and watt-hours since the last reset.
type Used struct{ W, HourW, Wh float64 }

// joulesPerWh is a definition.
const joulesPerWh = 3600

// Group shows the i-th meter at now, which is not before At.
func (e *Energy) Group(i int, now vtime.Tick) Used {
	m := &e.Groups[i]
	sum := e.sum(m, now)
	u := Used{W: m.W, HourW: m.W, Wh: sum - m.Zero}
	if span := min(now, vtime.Hour); span > 0 {
		u.HourW = (sum - e.sum(m, now-span)) * joulesPerWh / span.Seconds()
	}
	return u
}

// Total shows all meters together.
func (e *Energy) Total(now vtime.Tick) (u Used) {
	for i := range e.Groups {
		g := e.Group(i, now)
		u.W, u.HourW, u.Wh = u.W+g.W, u.HourW+g.HourW, u.Wh+g.Wh
	}
	return u
}

// sum is what m had counted at t.
func (e *Energy) sum(m *Meter, t vtime.Tick) float64 {
	if t >= e.At {
		return m.Sum + float64(m.W*(t-e.At).Seconds())/joulesPerWh
	}
	before, after := EnergyMark{}, EnergyMark{e.At, m.Sum}
	for _, p := range m.Past {
		if p.At <= t {
			before = p
			continue
		}
		after = p
		break
	}
	share := (t - before.At).Seconds() / (after.At - before.At).Seconds()
	return before.Wh + float64(share*(after.Wh-before.Wh))
}

// Same says whether the groups draw watts now.
func (e *Energy) Same(watts []float64) bool {
	for i := range e.Groups {
		if e.Groups[i].W != watts[i] {
			return false
		}
	}
	return true
}

// Turn is e with what the groups draw from now on.
func (e *Energy) Turn(now vtime.Tick, watts []float64) *Energy {
	next := &Energy{At: now, Since: e.Since, Groups: make([]Meter, len(e.Groups))}
	for i := range e.Groups {
		m := &e.Groups[i]
		next.Groups[i] = Meter{W: watts[i], Sum: e.sum(m, now), Zero: m.Zero, Past: m.Past}
		if e.At > 0 && now > e.At {
			next.Groups[i].Past = past(m.Past, EnergyMark{e.At, m.Sum}, now-vtime.Hour)
		}
	}
	return next
}

// Reset is e with all meters at 0 at now.
func (e *Energy) Reset(now vtime.Tick, at Stamp) *Energy {
	next := &Energy{At: e.At, Since: at, Groups: append([]Meter(nil), e.Groups...)}
	for i := range next.Groups {
		next.Groups[i].Zero = e.sum(&e.Groups[i], now)
	}
	return next
}

// mostMarks bounds what is held of one hour: with more changes than that the two
// that are nearest to each other become one, and the average is a little off
// between them.
const mostMarks = 60

// past is list with one more mark, without what is not needed to know the sum at
// from or later.
func past(list []EnergyMark, last EnergyMark, from vtime.Tick) []EnergyMark {
	first := 0
	for first+1 < len(list) && list[first+1].At <= from {
		first++
	}
	if first < len(list) && last.At <= from {
		first = len(list)
	}
	next := append(make([]EnergyMark, 0, len(list)-first+1), list[first:]...)
	next = append(next, last)
	if len(next) <= mostMarks {
		return next
	}
	near := 1
	for i := 1; i < len(next)-1; i++ {
		if next[i].At-next[i-1].At < next[near].At-next[near-1].At {
			near = i
		}
	}
	return append(next[:near], next[near+1:]...)
}

// KeptEnergy is what a card writes down of its meters.
type KeptEnergy struct {
	Since  Stamp       `json:"since,omitempty"` // of the last reset
	Groups []KeptMeter `json:"groups,omitempty"`
}

// KeptMeter is what the meter of a group showed.
type KeptMeter struct {
	Group string  `json:"group"`
	Wh    float64 `json:"wh"`
}

// Of is what the meter of the group with that name showed; 0 if there was none.
func (k *KeptEnergy) Of(group string) float64 {
	for _, m := range k.Groups {
		if m.Group == group {
			return m.Wh
		}
	}
	return 0
}
