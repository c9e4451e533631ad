package site

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// pollLost says whether a quirk has the poll of who go unanswered.
func (s *Site) pollLost(now vtime.Tick, who string) bool {
	q := s.card.Quirks()
	if q == nil {
		return false
	}
	if q.Of(snap.QuirkHung) != nil {
		s.card.Acted(now, snap.QuirkHung)
		return true
	}
	one := q.Of(snap.QuirkLossy)
	if one == nil {
		return false
	}
	polls := &s.policy.polls
	if s.monitor != nil && who == "monitor" {
		polls = &s.monitor.polls
	}
	*polls++
	lost := q.DrawFor(who, one.Kind, *polls)*100 < one.Percent
	if lost {
		s.card.Acted(now, one.Kind)
	}
	return lost
}

// asking is one poll of a card with quirks.
type asking struct {
	site *Site
	q    *snap.Quirks
	dev  *snap.Device
	now  vtime.Tick
}

// oddAnswer is what a card with quirks says.
func (s *Site) oddAnswer(q *snap.Quirks, d *snap.Device, now vtime.Tick) answer {
	k := asking{s, q, d, now}
	var a answer
	a.source, _ = k.number("upsOutputSource", 7, func(d *snap.Device, _ vtime.Tick) int64 { return int64(d.UPS.Source) })
	a.status, _ = k.number("upsBatteryStatus", 4, func(d *snap.Device, _ vtime.Tick) int64 { return int64(d.Battery.Status) })
	a.test, _ = k.number("upsTestResultsSummary", 6, func(d *snap.Device, _ vtime.Tick) int64 { return int64(d.Test.Result) })
	a.seconds, _ = k.number("upsSecondsOnBattery", 0, secondsOnBattery)
	a.minutes, a.hasMinutes = k.number(snap.ObjectRuntime, 0, func(d *snap.Device, _ vtime.Tick) int64 { return minutesLeft(d) })
	charge, has := k.number("upsEstimatedChargeRemaining", 0, func(d *snap.Device, _ vtime.Tick) int64 { return int64(math.Round(d.Battery.ChargePct)) })
	a.charge, a.hasCharge = float64(charge), has
	left, has := k.number("upsShutdownAfterDelay", 0, secondsToShutdown)
	a.counting = has && left != -1
	a.inputBad = k.listed(func(d *snap.Device) bool { return d.Alarms.Has(snap.AlarmInputBad) })
	a.batteryBad = k.listed(batteryBad)
	return a
}

// listed says whether the alarm table that the card shows is so.
func (k asking) listed(is func(*snap.Device) bool) bool {
	rows, has := k.number("upsAlarmDescr", 0, func(d *snap.Device, _ vtime.Tick) int64 {
		if is(d) {
			return 1
		}
		return 0
	})
	return has && rows == 1 && !k.q.HalfAwake(&k.dev.Card, k.now)
}

func secondsToShutdown(d *snap.Device, now vtime.Tick) int64 {
	if d.Control.ShutdownAt == vtime.Never {
		return -1
	}
	return max(d.Control.ShutdownAt-now, 0).WholeSeconds()
}

// number is what the card says for an object, if it has it. What it lacks is 0,
// which no enumeration has.
func (k asking) number(object string, top int64, of func(*snap.Device, vtime.Tick) int64) (int64, bool) {
	card := &k.dev.Card
	if by := k.q.Lacks(object, card, k.now); by != 0 {
		k.site.card.Acted(k.now, by)
		return 0, false
	}
	if n, unread := k.q.Unread(object, card, k.now); unread {
		k.site.card.Acted(k.now, snap.QuirkHalfAwake)
		return n, true
	}
	dev, at, by := k.q.From(object, k.dev, k.now)
	n := of(dev, at)
	if by != 0 && n != of(k.dev, k.now) {
		k.site.card.Acted(k.now, by)
	}
	n, by = k.q.Number(object, n, top, dev)
	k.site.card.Acted(k.now, by)
	return n, true
}
