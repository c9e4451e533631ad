package card

import (
	"fmt"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// clock is the card's clock with what it needs to run on.
type clock struct {
	snap.Clock
	battery bool
	rule    string     // of its zone
	start   snap.Stamp // the true date at tick 0
}

// KeptClock is a clock that was set by hand, as the card keeps it over sessions.
type KeptClock struct {
	Ahead vtime.Tick `json:"ahead"` // of the true date
}

// newClock is the clock at tick 0, which truly is at start.
func newClock(cfg *plan.Card, start time.Time) clock {
	k := clock{battery: !cfg.Clock.NoBattery, start: snap.StampOf(start)}
	k.PPB = cfg.Clock.DriftPPB
	if k.Set = !cfg.Clock.Unset; k.Set {
		k.Shown, k.From = k.start+snap.Stamp(cfg.Clock.Offset), "factory"
	}
	return k
}

// supplied has the clock go on after the card was without supply until now: one
// without a battery begins in 1970.
func (k *clock) supplied(now vtime.Tick) {
	if !k.battery {
		k.Clock = snap.Clock{At: now, PPB: k.PPB, Zone: k.Zone}
	}
}

// step sets the clock.
func (k *clock) step(now vtime.Tick, to snap.Stamp, from string) {
	k.At, k.Shown, k.Slew = now, to, 0
	k.Set, k.From = true, from
}

// take has the clock go by a rule of a zone.
func (k *clock) take(rule string, cfg *plan.Card) {
	if rule == k.rule && k.Zone != nil {
		return
	}
	k.rule, k.Zone = rule, time.UTC
	switch {
	case rule == cfg.Settings.Zone && cfg.Clock.Zone != nil:
		k.Zone = cfg.Clock.Zone // shared by all cards of a plan
	case rule != "":
		if zone, err := vtime.Zone(rule); err == nil { // checked when it was set
			k.Zone = zone
		}
	}
}

// SetClock sets the clock by hand to date, which is in the card's zone or has its
// own. What went by never becomes negative by it: only dates change.
func (c *Card) SetClock(now vtime.Tick, by snap.Actor, to snap.Stamp) {
	before := c.clock.Stamp(now)
	c.clock.step(now, to, byHand)
	c.KeepClock(now)
	text := fmt.Sprintf("clock set by %s: %s", who(by), moved(before, to))
	c.note("card", text)
	c.did(now, false, text)
}

// byHand is who set a clock that no server did.
const byHand = "hand"

// KeepClock writes down how far a clock that was set by hand is ahead. One that a
// server keeps right needs no memory: it is asked again at the next start.
func (c *Card) KeepClock(now vtime.Tick) {
	if !c.clock.Set || c.clock.From != byHand {
		if c.kept.Clock != nil {
			c.kept.Clock = nil
			c.changed(&c.kept.Clock)
		}
		return
	}
	ahead := vtime.Tick(c.clock.Stamp(now)-c.clock.start) - now
	if c.kept.Clock == nil || c.kept.Clock.Ahead != ahead {
		c.kept.Clock = &KeptClock{ahead}
		c.changed(&c.kept.Clock)
	}
}

// recallClock has the clock begin as far ahead as it was at the end of the life
// before: how long ago that was nobody knows. One without a battery forgets.
func (c *Card) recallClock() {
	if c.kept.Clock != nil && c.clock.battery {
		c.clock.step(0, c.clock.start+snap.Stamp(c.kept.Clock.Ahead), byHand)
	}
}

// moved says how far a clock was moved.
func moved(from, to snap.Stamp) string {
	by := time.Duration(to-from) * time.Millisecond
	switch {
	case by < 0:
		return (-by).String() + " back"
	case by > 0:
		return by.String() + " forward"
	}
	return "as it was"
}
