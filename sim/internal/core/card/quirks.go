package card

import (
	"fmt"

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
	told   bool
	at     vtime.Tick // when it was told last
}

// between is the least time from one line of a quirk's acts to the next.
const between = vtime.Minute

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

// Acted notes that a quirk acted: the first time at once, then at most once a
// minute.
func (c *Card) Acted(now vtime.Tick, k snap.QuirkKind) {
	if k == 0 {
		return
	}
	a := &c.quirks.acts[k]
	a.untold++
	if a.told && now < a.at+between {
		return
	}
	n := a.untold
	*a = acts{told: true, at: now}
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
