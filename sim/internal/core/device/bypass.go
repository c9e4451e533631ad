package device

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// cause is why the output is on the bypass.
type cause uint8

const (
	causeNone     cause = iota
	causeFault          // overload, heat or the inverter: it returns by itself
	causeOperator       // it returns when told to
	causeService        // the maintenance bypass: the unit has no say
)

// deadAfter is how long equipment without supply of its own goes on at no
// voltage: the ITI curve (2000). A dead maintenance bypass ends the output then.
const deadAfter = 20 * vtime.Millisecond

// bypassLines is how many lines the bypass has: those of the output.
func (u *UPS) bypassLines() int { return min(linesOut(u.cfg), u.feed.Lines) }

// inBypassWindow says whether the bypass may feed the output.
func (u *UPS) inBypassWindow() bool {
	b := &u.cfg.Bypass
	for _, v := range u.bypass.Volts[:u.bypassLines()] {
		if v < b.LowV || v > b.HighV {
			return false
		}
	}
	return u.hzInBypassWindow()
}

func (u *UPS) hzInBypassWindow() bool {
	return u.bypass.Hz >= u.cfg.Bypass.LowHz && u.bypass.Hz <= u.cfg.Bypass.HighHz
}

// alive says whether the bypass carries voltage that equipment can live on.
func (u *UPS) alive() bool {
	for _, v := range u.bypass.Volts[:u.bypassLines()] {
		if v < rideShare*u.config.InputVolts {
			return false
		}
	}
	return u.bypass.Hz > 0
}

// hasOwnFeed says whether the bypass has terminals of its own, so that it may be
// good while the input is bad.
func (u *UPS) hasOwnFeed() bool { return u.cfg.Bypass.Supply != plan.BypassInput }

// fed says whether a supply carries the unit's own needs: the input, or the bypass
// that feeds the output.
func (u *UPS) fed() bool {
	return u.feed.Good || u.hasOwnFeed() && u.OnBypass() && u.bypassGood
}

// fedPast says whether those are carried by the bypass.
func (u *UPS) fedPast() bool { return !u.feed.Good && u.fed() }

// OnBypass says whether the output is fed past the converters.
func (u *UPS) OnBypass() bool { return u.source == snap.SourceBypass }

// canBypass says whether the unit can put its output on the bypass by itself.
func (u *UPS) canBypass() bool { return u.cfg.Bypass.Fitted && u.bypassGood }

// toBypass transfers the output, with a gap unless the two are synchronised.
func (u *UPS) toBypass(kept cause, why snap.Why) {
	gap := u.changeGap()
	u.fall(gap)
	u.putOn(snap.SourceBypass)
	u.why = kept
	u.says(snap.What{Kind: snap.WhatOutput, Source: u.source, Why: why}, "output", fmt.Sprintf("bypass: %s%s", why.Text, gapText(gap)))
}

// changeGap is the dead time of a change between the present source of a live
// output and the bypass.
func (u *UPS) changeGap() vtime.Tick {
	if !u.outputOn || u.synchronised(&u.Physics) {
		return 0
	}
	return u.cfg.Bypass.Gap
}

func gapText(gap vtime.Tick) string {
	if gap == 0 {
		return ""
	}
	return fmt.Sprintf(", after a gap of %d ms", gap)
}

// followBypass acts on a bypass that came into its window or left it.
func (u *UPS) followBypass(now vtime.Tick) {
	was := u.bypassGood
	u.bypassGood = u.cfg.Bypass.Fitted && u.inBypassWindow()
	if u.bypassGood != was && u.hasOwnFeed() {
		u.upset()
		u.note("bypass", snap.Either(u.bypassGood, "good ", "bad ")+supplyText(u.bypass.Volts[:u.bypassLines()], u.bypass.Hz))
	}
	if u.why == causeService {
		u.followService(now)
		return
	}
	switch {
	case u.bypassGood && !was:
		u.directAt = now + u.cfg.Qualify
	case !u.bypassGood && was:
		u.directAt = vtime.Never
		u.loseBypass(now)
	}
}

// loseBypass takes the output away from a bypass that left its window.
func (u *UPS) loseBypass(now vtime.Tick) {
	if u.direct {
		u.leaveDirect()
	}
	if !u.OnBypass() {
		return
	}
	u.note("bypass", "out of its window")
	if u.canInvert() {
		u.leaveBypass(now, u.deadGap(u.cfg.Transfer))
		return
	}
	u.inLoss = true
	u.open(now, snap.Why{Text: "the bypass failed"})
}

// leaveBypass puts the output on the inverter, or on the input if that feeds it.
func (u *UPS) leaveBypass(now vtime.Tick, gap vtime.Tick) {
	u.fall(gap)
	if u.usable() {
		u.toMains(now)
		return
	}
	u.toBattery(now)
}

// deadGap is gap if the supply that is left is dead; a live one is left between
// two half-waves. The static switch is what has a gap at all, so that it is the
// bypass that counts.
func (u *UPS) deadGap(gap vtime.Tick) vtime.Tick {
	if u.alive() {
		return 0
	}
	return gap
}

// fall notes that the output was dead for gap.
func (u *UPS) fall(gap vtime.Tick) { u.gap = max(u.gap, gap) }

// TakeGap is the longest gap that the output has seen since it was asked for
// last, 0 for none.
func (u *UPS) TakeGap() (gap vtime.Tick) {
	gap, u.gap = u.gap, 0
	u.longestGap = max(u.longestGap, gap)
	return gap
}

// SetBypass is the switch at the unit's panel: "on", "off" or "maintenance". It
// returns the reason if it does nothing.
func (u *UPS) SetBypass(now vtime.Tick, order string) string {
	switch {
	case !u.cfg.Bypass.Fitted:
		return "this unit has no bypass"
	case order == "maintenance":
		return u.beginService(now)
	case order == "on":
		return u.bypassByHand(now)
	}
	return u.endBypass(now)
}

func (u *UPS) bypassByHand(now vtime.Tick) string {
	switch {
	case !u.bypassGood:
		return "the bypass is out of its window"
	case !u.OutputOn():
		return "the output is off"
	case u.why == causeService:
		return "the maintenance bypass is closed"
	case u.OnBypass():
		u.why = causeOperator
		return ""
	}
	u.abandonTest(now, "switched to the bypass")
	u.toBypass(causeOperator, snap.Why{Text: "at the unit's panel"})
	return ""
}

func (u *UPS) endBypass(now vtime.Tick) string {
	switch {
	case u.why == causeService && !u.OutputOn():
		u.why, u.deadAt = causeNone, vtime.Never
		return ""
	case !u.OnBypass():
		return "the output is not on the bypass"
	case !u.canInvert() && u.class.converts(u):
		return "the inverter does not work"
	case !u.usable() && (!u.systemOn || u.exhausted(&u.Physics)):
		return "the unit has nothing to feed the output from"
	}
	u.deadAt = vtime.Never
	u.systemOn = true
	u.leaveBypass(now, u.changeGap())
	return ""
}
