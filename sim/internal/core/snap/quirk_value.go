package snap

import (
	"math"

	"ridethrough/sim/internal/core/vtime"
)

// What quirks make of values. The agent and the modelled policy both read
// through these functions, so that both see the same card.

// ObjectRuntime is the object of the estimated minutes remaining.
const ObjectRuntime = "upsEstimatedMinutesRemaining"

// From is the state from which the object is read when it is asked for at now, and
// the time that belongs to it: d and now unless it is frozen or stale.
func (q *Quirks) From(object string, d *Device, now vtime.Tick) (*Device, vtime.Tick, QuirkKind) {
	for _, k := range [...]QuirkKind{QuirkFrozen, QuirkStale} {
		if one := q.Of(k); one.Touches(object) && one.Held != nil {
			return one.Held, one.Held.Tick, k
		}
	}
	return d, now, 0
}

// Number is what the card says for the number n of an object; top is the highest
// code of an enumeration, 0 for any other number. It says which quirk has changed
// it, 0 if none. Of several the last in the order of kinds is told.
func (q *Quirks) Number(object string, n, top int64, d *Device) (shown int64, by QuirkKind) {
	shown = n
	for k := QuirkScaledUp; k <= QuirkUnknownCode; k++ {
		one := q.Of(k)
		if one == nil {
			continue
		}
		if next, ok := one.number(object, shown, top, d); ok && next != shown {
			shown, by = next, k
		}
	}
	if one := q.Of(QuirkCountersNotKept); one != nil && one.Held != nil && object == "upsInputLineBads" && one.Held.UPS.LineBads > 0 {
		shown, by = max(shown-int64(one.Held.UPS.LineBads), 0), one.Kind
	}
	return shown, by
}

func (q *Quirk) number(object string, n, top int64, d *Device) (int64, bool) {
	switch q.Kind {
	case QuirkRuntimeInSeconds, QuirkRuntimeZero, QuirkRuntimeMinusOne:
		return q.runtime(d), object == ObjectRuntime
	}
	if !q.Touches(object) {
		return n, false
	}
	switch q.Kind {
	case QuirkScaledUp:
		return min(max(n*10, math.MinInt32), math.MaxInt32), true
	case QuirkScaledDown:
		return n / 10, true
	case QuirkConstant:
		return q.Value, true
	case QuirkUnknownCode:
		if q.Value == 0 {
			return top + 1, top > 0
		}
		return q.Value, top > 0
	}
	return n, false
}

func (q *Quirk) runtime(d *Device) int64 {
	switch q.Kind {
	case QuirkRuntimeZero:
		return 0
	case QuirkRuntimeMinusOne:
		return -1
	}
	return int64(min(max(math.Floor(d.Battery.RuntimeS), 0), math.MaxInt32))
}

// Lacks says which quirk makes the card not have the object at now, 0 if none.
func (q *Quirks) Lacks(object string, c *Card, now vtime.Tick) QuirkKind {
	if q.Of(QuirkAbsent).Touches(object) {
		return QuirkAbsent
	}
	if o := ObjectByName(object); o != nil && o.Kind == Measured && q.HalfAwake(c, now) {
		return QuirkHalfAwake
	}
	return 0
}

// HalfAwake says whether the card has started but has not yet read its unit.
func (q *Quirks) HalfAwake(c *Card, now vtime.Tick) bool {
	one := q.Of(QuirkHalfAwake)
	return one != nil && now < c.StartedAt+one.Lasts && c.StartedAt > 0
}

// Unread is what a card that is half awake says for an object that it has but cannot
// know yet; any other card knows. What is a text is then empty.
func (q *Quirks) Unread(object string, c *Card, now vtime.Tick) (n int64, unread bool) {
	if !q.HalfAwake(c, now) {
		return 0, false
	}
	switch o := ObjectByName(object); {
	case o == nil:
		return 0, false
	case object == "upsBatteryStatus", object == "upsOutputSource":
		return 1, true // unknown, other
	default:
		return 0, o.Group == "ident" || o.Kind == Counted
	}
}

// UpTime is what the card says for its time since the start, in hundredths of a
// second, for the true one: it wraps Lasts after the quirk came into force or the
// agent started, whichever is later.
func (q *Quirks) UpTime(c *Card, hundredths int64) int64 {
	one := q.Of(QuirkUptimeNearWrap)
	if one == nil {
		return hundredths
	}
	const wrap = 1 << 32
	atSince := max(c.Runs(one.Since), 0).Hundredths()
	return (hundredths - atSince - one.Lasts.Hundredths() + wrap) % wrap
}
