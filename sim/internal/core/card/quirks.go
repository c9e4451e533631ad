package card

import (
	"fmt"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// quirks are the quirks in force, and how often each has acted.
type quirks struct {
	set  *snap.Quirks // never nil; those in force may be none
	acts [snap.QuirkKinds]acts
}

// acts counts what is still to be told, so that a quirk that acts all the time
// fills no trace.
type acts struct {
	untold int
	next   vtime.Tick // not told again before
	wait   vtime.Tick // from one time to the next
}

// newQuirks is nil for a card that keeps to the standards.
func newQuirks(cfg *plan.Card, seed uint64) *quirks {
	if len(cfg.Quirks) == 0 {
		return nil
	}
	q := noQuirks(cfg, seed)
	for _, one := range cfg.Quirks {
		q.set = q.set.With(one)
	}
	return q
}

func noQuirks(cfg *plan.Card, seed uint64) *quirks {
	return &quirks{set: &snap.Quirks{Seed: seed, Serial: cfg.Identity.SerialNumber}}
}

// Quirks are those in force, nil if there are none.
func (c *Card) Quirks() *snap.Quirks {
	if c.quirks == nil || c.quirks.set.Empty() {
		return nil
	}
	return c.quirks.set
}

// SetQuirk brings a quirk into force, in place of another of its kind.
func (c *Card) SetQuirk(one snap.Quirk) {
	c.note("quirk", one.Kind.String()+" on")
	if c.quirks == nil {
		c.quirks = noQuirks(c.cfg, c.seed)
	}
	c.quirks.acts[one.Kind] = acts{}
	c.quirks.set = c.quirks.set.With(one)
}

// ClearQuirk ends a quirk, of kind 0 all.
func (c *Card) ClearQuirk(k snap.QuirkKind) {
	word := k.String()
	if k == 0 {
		word = "all"
	}
	c.note("quirk", word+" off")
	if c.quirks != nil {
		c.quirks.set = c.quirks.set.Without(k)
	}
}

// Hold has a quirk that is in force show the state d.
func (c *Card) Hold(k snap.QuirkKind, d *snap.Device) {
	one := *c.quirks.set.Of(k)
	one.Held = d
	c.quirks.set = c.quirks.set.With(one)
}

// Acted notes that a quirk acted: the first time at once, then ever more rarely.
func (c *Card) Acted(now vtime.Tick, k snap.QuirkKind) {
	if k == 0 {
		return
	}
	a := &c.quirks.acts[k]
	a.untold++
	if now < a.next {
		return
	}
	n := a.untold
	a.wait = snap.NextActs(a.wait)
	a.untold, a.next = 0, now+a.wait
	c.TellActs(k, n)
}

// TellActs notes that a quirk acted n times. A surface counts its own.
func (c *Card) TellActs(k snap.QuirkKind, n int) {
	text := k.String() + " acted"
	if n > 1 {
		text = fmt.Sprintf("%s %d times", text, n)
	}
	c.note("quirk", text)
}

// keepsBack says whether the quirk has a notification not sent.
func (c *Card) keepsBack(now vtime.Tick, k snap.QuirkKind) bool {
	if c.Quirks().Of(k) == nil {
		return false
	}
	c.Acted(now, k)
	return true
}

// listed is the conditions that go into the alarm table.
func (c *Card) listed(now vtime.Tick, all device.Conditions) device.Conditions {
	one := c.Quirks().Of(snap.QuirkUnlistedAlarms)
	if one == nil {
		return all
	}
	left := all
	for _, k := range one.Alarms {
		left = left.With(k, false)
	}
	hidden := all &^ left
	if hidden&^c.unlisted != 0 {
		c.Acted(now, one.Kind)
	}
	c.unlisted = hidden
	return left
}

// flush sends what may leave.
func (c *Card) flush(now vtime.Tick, send func(snap.Notification)) {
	silent, copies := gap, 1
	if one := c.Quirks().Of(snap.QuirkStorm); one != nil {
		silent, copies = 0, one.Count
	}
	free := c.Quirks().Of(snap.QuirkNoPause) != nil
	c.out.flush(now, silent, free, func(n snap.Notification, early bool) {
		if early {
			c.Acted(now, snap.QuirkNoPause)
		}
		c.out.sent[n.Kind] += copies
		for range copies {
			send(n)
		}
		if copies > 1 {
			c.Acted(now, snap.QuirkStorm)
		}
	})
}
