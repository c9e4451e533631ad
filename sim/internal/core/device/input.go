package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// rideShare is the retained voltage that IT equipment takes for half a second
// (ITI curve, 2000); a transfer gap within it reaches no host.
const rideShare = 0.7

// seeInput takes note of an input that came into its window or left it.
func (u *UPS) seeInput(now vtime.Tick, wasGood bool) {
	switch {
	case wasGood && !u.feed.Good:
		u.note("input", "bad "+feedText(&u.feed))
		u.countAt, u.qualifyAt = now+vtime.Tick(u.leastBad), vtime.Never
		u.countInput(now)
		if u.testing() {
			u.finishTest(now, snap.ResultAborted, "the mains failed during the test")
		}
	case !wasGood && u.feed.Good:
		u.note("input", "good "+feedText(&u.feed))
		if u.countInput(now); u.countAt != vtime.Never {
			u.countAt = vtime.Never
			u.note("input", fmt.Sprintf("not counted: it was bad for less than %s", vtime.Tick(u.leastBad).Duration()))
		}
		u.qualifyAt = now + u.qualifies()
	}
}

// SetLeastBad has an input that is out of tolerance count once that has lasted for t, which is
// at most a minute. Of the one that is bad now it changes nothing.
func (u *UPS) SetLeastBad(t vtime.Tick) { u.leastBad = uint16(t) }

// LeastBad is what was set so.
func (u *UPS) LeastBad() vtime.Tick { return vtime.Tick(u.leastBad) }

// InputGood says whether the input is in its window now, counted or not.
func (u *UPS) InputGood() bool { return u.feed.Good }

// countInput counts an input that has been out of tolerance for long enough (RFC 1628
// upsInputLineBads: as defined by the manufacturer).
func (u *UPS) countInput(now vtime.Tick) {
	if u.countAt > now {
		return
	}
	u.countAt = vtime.Never
	u.lineBads++
	if u.leastBad > 0 {
		u.note("input", fmt.Sprintf("counted: it has been bad for %s", u.LeastBad().Duration()))
	}
}

// leaveInput takes the output off an input that is bad.
func (u *UPS) leaveInput(now vtime.Tick) {
	switch {
	case u.feed.Good || !u.onMains():
	case u.canInvert():
		u.countRefusal(now)
		u.fall(u.deadGap(u.class.gap(u)))
		u.toBattery(now)
	case u.canBypass():
		u.toBypass(causeFault, noInverter)
	default:
		u.fall(u.deadGap(u.cfg.Transfer))
		u.inLoss = true
		u.open(now, noInverter)
	}
}

// countRefusal counts an input that went bad just after it had been given the load:
// a supply that is too small for it will do so for ever.
func (u *UPS) countRefusal(now vtime.Tick) {
	r := &u.cfg.Retransfer
	if now-u.tookAt >= r.Quick {
		u.refusals = 0
		return
	}
	if u.refusals++; int(u.refusals) == r.Limit {
		u.note("input", fmt.Sprintf("went bad %d times in a row within %s of being taken back: it has to be good for %s from now on",
			r.Limit, r.Quick.Duration(), max(r.Hold, u.cfg.Qualify).Duration()))
	}
}

// holdsOff says whether the unit distrusts its input.
func (u *UPS) holdsOff() bool {
	return u.cfg.Retransfer.Limit > 0 && int(u.refusals) >= u.cfg.Retransfer.Limit
}

// qualifies is how long the input must be good before it is taken back.
func (u *UPS) qualifies() vtime.Tick {
	if u.holdsOff() {
		return max(u.cfg.Qualify, u.cfg.Retransfer.Hold)
	}
	return u.cfg.Qualify
}

// toBattery transfers the output to the battery.
func (u *UPS) toBattery(now vtime.Tick) {
	text := "battery"
	if gap := u.class.gap(u); gap > 0 && u.onMains() {
		text += fmt.Sprintf(" after a gap of %d ms", gap)
	}
	u.putOn(snap.SourceBattery)
	u.since = now
	u.transfers++
	u.fedBy(text)
}

// takeBackMains returns the output to an input that has been good for long enough.
func (u *UPS) takeBackMains(now vtime.Tick) {
	if u.qualifyAt > now || !u.feed.Good {
		return
	}
	u.qualifyAt = vtime.Never
	u.upset() // the charger works from here on
	if u.OnBattery() && !u.testing() {
		u.toMains(now)
	}
	if u.why == causeService && !u.systemOn && !u.ordered {
		u.systemOn = true
		u.upset()
		u.note("ups", "system on")
	}
	u.wakeOnMains(now)
}

// toMains puts the output on the mains; chooseTap says which way.
func (u *UPS) toMains(now vtime.Tick) {
	fromBypass := u.OnBypass()
	u.tookAt = now
	u.putOn(snap.SourceNormal)
	u.fedBy(u.source.String())
	u.chooseTap()
	if !fromBypass {
		u.walkIn(now)
	}
	if u.bypassGood {
		u.directAt = now + u.cfg.Qualify
	}
}

// fedBy tells what feeds the output from now on.
func (u *UPS) fedBy(text string) {
	u.says(snap.What{Kind: snap.WhatOutput, Source: u.source}, "output", text)
}

// putOn makes s the source of the output and ends what belongs to the one
// before.
func (u *UPS) putOn(s snap.OutputSource) {
	u.finishWalk()
	u.source, u.why = s, causeNone
	u.since = vtime.Never
	u.direct = false
	u.upset()
}

// wakeOnMains acts on what waited for the mains: a startup that fell due, or
// the automatic restart after a shutdown in a power loss (RFC 1628
// upsAutoRestart, upsStartupAfterDelay). A running startup or reboot countdown
// is waited for.
func (u *UPS) wakeOnMains(now vtime.Tick) {
	counting := u.control.StartupAt != vtime.Never || u.control.RebootUntil != vtime.Never
	automatic := u.inLoss && u.control.AutoRestart && !counting && !u.parked
	if !u.OutputOn() && (u.waiting || automatic) {
		u.switchOn(now)
	}
}

// usable says whether the output may be fed from the mains now.
func (u *UPS) usable() bool { return u.feed.Good && u.qualifyAt == vtime.Never }

// chooseTap has the class choose how the input feeds the output.
func (u *UPS) chooseTap() {
	if !u.onMains() {
		return
	}
	if tap := u.class.tap(u); tap != u.source {
		u.source = tap
		u.fedBy(tap.String())
	}
}
