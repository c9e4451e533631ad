package scenario

import (
	"math"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// clock makes the card's clock, and sets its zone in s.
func (b *builder) clock(t *clockTable, s *snap.Settings) (plan.CardClock, error) {
	rule := or(t.Zone, vtime.FixedRule(b.plan.Start))
	zone, err := vtime.Zone(rule)
	if err != nil {
		return plan.CardClock{}, b.src.at(t.at("zone"), err.Error(), `a rule such as "UTC0" or "CET-1CEST,M3.5.0,M10.5.0/3"`)
	}
	if s.Zone = rule; rule == "UTC0" {
		s.Zone, zone = "", time.UTC
	}
	k := plan.CardClock{
		Offset: t.Offset, DriftPPB: int64(math.Round(t.DriftPPM * 1000)),
		NoBattery: !t.Battery, Unset: !or(t.Set, t.Battery), Zone: zone,
	}
	if k.Unset && t.Offset != 0 {
		return k, b.src.at(t.at("offset"), "offset is that of a clock that was set, and this one was not", "set = true, or no offset")
	}
	return k, nil
}
