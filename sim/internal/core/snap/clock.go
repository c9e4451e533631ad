package snap

import (
	"time"

	"ridethrough/sim/internal/core/vtime"
)

// Stamp is a date by the card's clock, in milliseconds since 1970-01-01 UTC. What
// was stamped keeps its date when the clock is set afterwards.
type Stamp int64

// StampOf is t as a stamp.
func StampOf(t time.Time) Stamp { return Stamp(t.UnixMilli()) }

// Clock is the card's own clock: a count that goes on from what it was last set to,
// as fast as its crystal says. It never changes once it is in a [Card].
type Clock struct {
	At    vtime.Tick // when it was last set, or began to run
	Shown Stamp      // what it showed then
	PPB   int64      // how much faster than time itself it goes, in parts per billion
	// Slew is what it is to gain beside that from At on, or to lose if it is
	// negative, at [SlewPPM].
	Slew vtime.Tick
	// Set says that it was set since it last had no supply. A clock that was not
	// counts from 1970, and nothing may be done by it.
	Set  bool
	From string         // what set it last: "factory", "hand", or the name of a time server
	Zone *time.Location // of the dates that it shows; nil: UTC
}

// SlewPPM is how fast a clock is brought to another date without a step, in parts
// per million: the customary rate of adjtime(), from memory.
const SlewPPM = 500

// Stamp is what the clock shows at t. For a t before it was last set it is what it
// would have shown.
func (k *Clock) Stamp(t vtime.Tick) Stamp {
	d := t - k.At
	rate, takes := int64(SlewPPM*1000), k.Slew*(1_000_000/SlewPPM)
	if k.Slew < 0 {
		rate, takes = -rate, -takes
	}
	if d < 0 || d >= takes {
		return k.Shown + Stamp(k.Counts(d)+k.slewed(d))
	}
	return k.Shown + Stamp(stretched(d, k.PPB+rate))
}

// Counts is a span as the clock's crystal counts it, whatever it is set to
// meanwhile: sysUpTime and its like go by this, never by dates.
func (k *Clock) Counts(span vtime.Tick) vtime.Tick {
	if k.PPB == 0 {
		return span
	}
	return stretched(span, k.PPB)
}

// stretched is span at a rate; the product stays within 64 bits for 100 years.
func stretched(span vtime.Tick, ppb int64) vtime.Tick {
	const billion = 1_000_000_000
	product := int64(span) * ppb
	more := product / billion
	if product%billion < 0 {
		more-- // rounded down always, so that no two rates meet with a step back
	}
	return span + vtime.Tick(more)
}

// slewed is what of Slew is done after d, which is not within it.
func (k *Clock) slewed(d vtime.Tick) vtime.Tick {
	if d < 0 {
		return 0
	}
	return k.Slew
}

// Reaches is the first tick at which the clock shows s, if it is not set again;
// the present one if it does already.
func (k *Clock) Reaches(now vtime.Tick, s Stamp) vtime.Tick {
	left := vtime.Tick(s - k.Stamp(now))
	if left <= 0 {
		return now
	}
	low, high := now, now+2*left+vtime.Second // no crystal is off by half
	for high-low > 1 {
		mid := low + (high-low)/2
		if k.Stamp(mid) >= s {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// Round is the first date after s that is a multiple of every in the clock's zone,
// counted from the beginning of 1970 there: an interval that divides a day comes to
// the same times on each of them, also after a night in which the clocks change.
func (k *Clock) Round(s Stamp, every vtime.Tick) Stamp {
	step, ahead := Stamp(every), k.ahead(s)
	wall := s + ahead
	wall += step - (wall%step+step)%step
	straight := wall - ahead
	if bent := wall - k.ahead(straight); (straight+k.ahead(straight))%step != 0 && bent > s {
		return bent
	}
	return straight
}

// ahead is how far the clock's zone is ahead of UTC at s.
func (k *Clock) ahead(s Stamp) Stamp {
	_, seconds := k.In(s).Zone()
	return Stamp(seconds) * 1000
}

// In is s as a date in the clock's zone.
func (k *Clock) In(s Stamp) time.Time {
	t := time.UnixMilli(int64(s)).UTC()
	if k.Zone != nil {
		t = t.In(k.Zone)
	}
	return t
}

// Date is the card's date at t, by its clock and in its zone as they are now:
// everything that shows or sends a date uses it, or [Card.DateOf] for what has a
// stamp of its own.
func (c *Card) Date(t vtime.Tick) time.Time { return c.Clock.In(c.Clock.Stamp(t)) }

// DateOf is a stamp as a date in the card's zone.
func (c *Card) DateOf(s Stamp) time.Time { return c.Clock.In(s) }

// Runs is how long the card's agent has been running at t by its own count, the
// base of sysUpTime and snmpEngineTime: it follows the clock's rate and never a step.
func (c *Card) Runs(t vtime.Tick) vtime.Tick { return c.Clock.Counts(t - c.StartedAt) }
