package expect

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// claim is one expectation in the course of a run.
type claim struct {
	e                  *plan.Expect
	form               string
	that, after, until int // slots, -1 for none

	open, closed bool       // its window
	opened       vtime.Tick // when the window opened
	steps        int        // grid points inside the window
	onsets       int        // times that it became true inside the window
	onset        vtime.Tick // the first of them

	state   State
	at      vtime.Tick
	because string
}

func (c *claim) decide(state State, at vtime.Tick, because string) {
	c.state, c.at, c.because = state, at, because
}

// step judges one grid point. sig is about site, t.last about the step before.
func (c *claim) step(t *Tracker, sig Signature, site *snap.Site) {
	now, holds := site.Tick, sig.Has(c.that)
	switch c.e.Form {
	case plan.Always, plan.NeverHolds, plan.Once:
		c.move(&sig, now)
		c.inWindow(t, holds, site)
	case plan.At:
		c.moment(t, holds, site)
	case plan.By:
		c.deadline(c.e.Time, holds, site)
	case plan.Within:
		if c.move(&sig, now); c.open {
			c.deadline(c.opened+c.e.Time, holds, site)
		}
	case plan.AtEnd: // only finish can tell
	}
}

// move opens and closes the window. The tick at which Until first holds is
// already outside.
func (c *claim) move(sig *Signature, now vtime.Tick) {
	if !c.open && !c.closed && (c.after < 0 || sig.Has(c.after)) {
		c.open, c.opened = true, now
	}
	if c.open && c.until >= 0 && sig.Has(c.until) {
		c.open, c.closed = false, true
	}
}

func (c *claim) inWindow(t *Tracker, holds bool, site *snap.Site) {
	now := site.Tick
	if c.closed {
		c.close(now, "its window closed")
		return
	}
	if !c.open {
		return
	}
	c.steps++
	switch {
	case c.e.Form == plan.Always && !holds:
		c.decide(Missed, now, fmt.Sprintf("it did not hold at %v%s", now, c.values(site)))
	case c.e.Form == plan.NeverHolds && holds:
		c.decide(Missed, now, fmt.Sprintf("it held at %v%s", now, c.values(site)))
	case c.e.Form == plan.Once && holds && t.started && !t.last.Has(c.that):
		c.begin(site)
	}
}

// begin counts that the condition became true.
func (c *claim) begin(site *snap.Site) {
	if c.onsets++; c.onsets == 1 {
		c.onset = site.Tick
		return
	}
	c.decide(Missed, site.Tick, fmt.Sprintf("it became true at %v and again at %v%s", c.onset, site.Tick, c.values(site)))
}

// close judges what needs its whole window.
func (c *claim) close(now vtime.Tick, why string) {
	switch {
	case c.steps == 0:
		c.decide(NotReached, now, "its window was empty")
	case c.e.Form == plan.Always:
		c.decide(Met, now, fmt.Sprintf("it held from %v until %s at %v", c.opened, why, now))
	case c.e.Form == plan.NeverHolds:
		c.decide(Met, now, fmt.Sprintf("it did not hold from %v until %s at %v", c.opened, why, now))
	case c.onsets == 1:
		c.decide(Met, c.onset, fmt.Sprintf("it became true at %v only", c.onset))
	default:
		c.decide(Missed, now, fmt.Sprintf("it did not become true from %v until %s at %v", c.opened, why, now))
	}
}

// moment judges At. Between two grid points the site is as at the first of
// them, should the engine have none at that very tick.
func (c *claim) moment(t *Tracker, holds bool, site *snap.Site) {
	due := c.e.Time
	switch {
	case site.Tick < due:
		return
	case site.Tick > due && t.started:
		holds = t.last.Has(c.that)
	}
	if holds {
		c.decide(Met, due, fmt.Sprintf("it held at %v", due))
		return
	}
	c.decide(Missed, due, fmt.Sprintf("it did not hold at %v%s", due, c.values(site)))
}

// deadline judges By and Within.
func (c *claim) deadline(due vtime.Tick, holds bool, site *snap.Site) {
	switch now := site.Tick; {
	case holds && now <= due:
		c.decide(Met, now, fmt.Sprintf("it held at %v%s", now, c.since(now)))
	case now >= due:
		c.decide(Missed, due, fmt.Sprintf("it had not held by %v%s", due, c.values(site)))
	}
}

// since tells how long after its window opened a Within was met.
func (c *claim) since(now vtime.Tick) string {
	if c.e.Form != plan.Within {
		return ""
	}
	return fmt.Sprintf(", %v after %v", now-c.opened, c.opened)
}

// due is when the claim has to be judged at the latest.
func (c *claim) due() vtime.Tick {
	switch {
	case c.e.Form == plan.At || c.e.Form == plan.By:
		return c.e.Time
	case c.e.Form == plan.Within && c.open:
		return c.opened + c.e.Time
	default:
		return vtime.Never
	}
}

// finish decides what the end of the run leaves open.
func (c *claim) finish(t *Tracker, site *snap.Site) {
	end := site.Tick
	switch {
	case c.e.Form == plan.AtEnd && t.last.Has(c.that):
		c.decide(Met, end, fmt.Sprintf("it held at the end, %v", end))
	case c.e.Form == plan.AtEnd:
		c.decide(Missed, end, fmt.Sprintf("it did not hold at the end, %v%s", end, c.values(site)))
	case c.e.Form == plan.At || c.e.Form == plan.By:
		c.decide(NotReached, end, fmt.Sprintf("the run ended at %v", end))
	case !c.open:
		c.decide(NotReached, end, "its window never opened: "+c.e.After.Text+" was never true")
	case c.e.Form == plan.Within:
		c.decide(NotReached, end, fmt.Sprintf("the run ended at %v, before %v had passed", end, c.e.Time))
	default:
		c.close(end, "the end")
	}
}

// values tells what the condition saw, for a claim that failed.
func (c *claim) values(site *snap.Site) string {
	if c.e.That.Show == nil {
		return ""
	}
	return ": " + c.e.That.Show(site)
}
