package site

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/mains"
)

// wave is what three lines carry: RMS volts to neutral, and hertz.
type wave struct {
	volts [3]float64
	hz    float64
}

func even(volts, hz float64) wave { return wave{[3]float64{volts, volts, volts}, hz} }

// with is w changed as an entry says.
func (w wave) with(c *plan.Change) wave {
	if c.Line == 0 {
		return even(c.Volts, c.Hz)
	}
	w.volts[c.Line-1], w.hz = c.Volts, c.Hz
	return w
}

// utility is the public supply: what it delivers until told otherwise, a drift
// of that, and passing disturbances over it.
type utility struct {
	name string // that chance and the trace know it by
	base wave

	from   wave         // what a drift began at
	since  vtime.Tick   // when
	until  vtime.Tick   // when it gets to base; Never: no drift
	passes *plan.Change // never changed in place
	over   vtime.Tick   // end of the passing disturbance; Never: none
	train  *train       // nil until there was one

	touched bool // something has befallen it, so that it is one site's own
}

// train is a row of dips.
type train struct {
	change *plan.Change
	left   int
	next   vtime.Tick // Never: no more
	draw   func() float64
	number int // of trains so far
}

func newUtility(src plan.Source, name string) utility {
	return utility{
		name: name,
		base: even(src.Volts, src.Hz), until: vtime.Never, over: vtime.Never,
	}
}

// at is what it delivers at t, if nobody tells it otherwise until then.
func (u *utility) at(t vtime.Tick) wave {
	w := u.base
	if u.until != vtime.Never {
		w = u.drift(t)
	}
	if u.over != vtime.Never {
		w = w.with(u.passes)
	}
	return w
}

func (u *utility) drift(t vtime.Tick) (w wave) {
	spent, length := (t - u.since).Seconds(), (u.until - u.since).Seconds()
	for i := range w.volts {
		w.volts[i] = mains.Drift{From: u.from.volts[i], To: u.base.volts[i], Seconds: length}.At(spent)
	}
	w.hz = mains.Drift{From: u.from.hz, To: u.base.hz, Seconds: length}.At(spent)
	return w
}

// drifts says whether it changes by itself between two instants.
func (u *utility) drifts() bool {
	return u.until != vtime.Never && (u.over == vtime.Never || u.passes.Line != 0)
}

func (u *utility) deadline() vtime.Tick { return min(u.until, u.over, u.train.due()) }

// change carries an entry out. What stays ends every disturbance before it; what
// passes ends only the one that it follows.
func (u *utility) change(now vtime.Tick, c *plan.Change, seed uint64) {
	switch {
	case c.Count > 0:
		own := *c
		u.train = &train{change: &own, left: c.Count, next: now, number: u.train.count() + 1}
		u.train.draw = rng.Stream(seed, fmt.Sprintf("%s/train/%d", u.name, u.train.number)).Float64
		u.dips(now)
	case c.Lasts > 0:
		own := *c
		u.passes, u.over = &own, now+c.Lasts
	case c.Over > 0:
		u.from, u.since, u.until = u.at(now), now, now+c.Over
		u.base, u.over = even(c.Volts, c.Hz), vtime.Never
		u.train.stop()
	default:
		u.base = u.settled(now).with(c)
		u.until, u.over = vtime.Never, vtime.Never
		u.train.stop()
	}
}

// settled is what it delivers at now without what passes.
func (u *utility) settled(now vtime.Tick) wave {
	if u.until != vtime.Never {
		return u.drift(now)
	}
	return u.base
}

// due lets happen what has fallen due, and says what for the trace.
func (u *utility) due(now vtime.Tick) (over bool) {
	if u.until <= now {
		u.until = vtime.Never
	}
	if u.over <= now {
		u.over, over = vtime.Never, true
	}
	u.dips(now)
	return over
}

// dips begins the next dip of a train when its time has come.
func (u *utility) dips(now vtime.Tick) {
	t := u.train
	if t.due() > now {
		return
	}
	t.left--
	u.passes, u.over = t.change, now+t.drawn(t.change.Lasts, t.change.LastsUpTo)
	t.next = vtime.Never
	if t.left > 0 {
		t.next = now + t.change.Every + t.drawn(0, t.change.Jitter)
	}
}

// due is when the next dip comes; Never without a train.
func (t *train) due() vtime.Tick {
	if t == nil {
		return vtime.Never
	}
	return t.next
}

func (t *train) stop() {
	if t != nil {
		t.next = vtime.Never
	}
}

// count is how many trains there have been.
func (t *train) count() int {
	if t == nil {
		return 0
	}
	return t.number
}

// drawn is a time between low and high, both included; low if high is less.
func (t *train) drawn(low, high vtime.Tick) vtime.Tick {
	sample := t.draw() // always: the draws do not depend on which are used
	if high <= low {
		return low
	}
	return low + vtime.Tick(sample*float64(high-low+1))
}
