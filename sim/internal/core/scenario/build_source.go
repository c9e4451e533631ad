package scenario

import (
	"ridethrough/sim/internal/core/plan"
)

// change is what a source entry makes of the supply.
func (b *builder) change(t *changeTable) (plan.Action, error) {
	nominal := b.plan.Source
	c := plan.Change{Volts: nominal.Volts, Hz: nominal.Hz}
	a := plan.Action{Kind: plan.ActSource}
	if err := b.level(t, &c); err != nil {
		return a, err
	}
	if err := b.course(t, &c); err != nil {
		return a, err
	}
	a.Change = c
	return a, nil
}

// second is what an entry makes of the feed of the bypass.
func (b *builder) second(t *entryTable, c *changeTable) (plan.Action, error) {
	if b.plan.UPS.Bypass.Supply != plan.BypassSecond {
		return plan.Action{}, b.src.at(t.at("bypass_source"), "the bypass has no second feed", `[ups.bypass] supply = "second"`)
	}
	a, err := b.change(c)
	a.Kind = plan.ActBypassSource
	return a, err
}

// level is the voltage and frequency that a source entry goes to.
func (b *builder) level(t *changeTable, c *plan.Change) error {
	set := 0
	for _, share := range []*float64{t.SagPct, t.SwellPct} {
		if share != nil {
			c.Volts = float64(*share*c.Volts) / 100
			set++
		}
	}
	if t.Volts != nil {
		c.Volts = *t.Volts
		set++
	}
	switch {
	case t.Word == "lost":
		c.Volts = 0
	case t.Word == "normal":
		return nil
	case set > 1:
		return b.src.at(t.node.off, "the source has more than one of sag_pct, swell_pct and volts", "one of them")
	case set == 0 && t.Hz == nil:
		return b.src.at(t.node.off, "the source does not change", "sag_pct, swell_pct, volts or hz")
	}
	c.Line = int(or(t.Line, 0))
	if c.Volts == 0 && c.Line == 0 { // a dead supply has no frequency either
		c.Hz = 0
	}
	c.Hz = or(t.Hz, c.Hz)
	return nil
}

// course is how a source entry gets there and how long it stays.
func (b *builder) course(t *changeTable, c *plan.Change) error {
	if t.Word != "" {
		return nil
	}
	c.Lasts, c.Over = or(t.Lasts, 0), or(t.Over, 0)
	c.Count, c.Every = int(or(t.Count, 0)), or(t.Every, 0)
	c.Jitter, c.LastsUpTo = or(t.Jitter, 0), or(t.LastsUpTo, 0)
	switch {
	case c.Over > 0 && (c.Lasts > 0 || c.Line > 0 || c.Count > 0):
		return b.src.at(t.at("over"), "over stands beside lasts, line or count", "none of them")
	case c.Count > 0 && (c.Lasts == 0 || c.Every == 0):
		return b.src.at(t.at("count"), "count lacks lasts or every", "both beside it")
	case c.Count == 0 && (t.Every != nil || t.Jitter != nil || t.LastsUpTo != nil):
		return b.src.at(t.node.off, "every, jitter or lasts_up_to stands without count", "count")
	case c.LastsUpTo > 0 && c.LastsUpTo < c.Lasts:
		return b.src.at(t.at("lasts_up_to"), "lasts_up_to is shorter than lasts", "at least lasts")
	case c.Count > 0 && max(c.Lasts, c.LastsUpTo) >= c.Every:
		return b.src.at(t.at("every"), "one dip would not be over before the next begins", "every longer than each dip lasts")
	}
	return nil
}
