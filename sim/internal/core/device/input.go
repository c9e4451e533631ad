package device

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// rideShare is the retained voltage that IT equipment takes for half a second
// (ITI curve, 2000); a transfer gap within it reaches no host.
const rideShare = 0.7

// SetFeed changes the supply at now. It returns the length of the gap that the
// output saw, 0 for none.
func (u *UPS) SetFeed(now vtime.Tick, volts, hz float64) (gap vtime.Tick) {
	if volts != u.feed.Volts || hz != u.feed.Hz {
		u.upset()
	}
	was := u.feed.Good
	u.feed = snap.Feed{Volts: volts, Hz: hz, Good: u.within(volts, hz)}
	switch {
	case was && !u.feed.Good:
		gap = u.loseInput(now)
	case !was && u.feed.Good:
		u.note("input", fmt.Sprintf("good %.1f V %.2f Hz", volts, hz))
		u.qualifyAt = now + u.cfg.Qualify
	}
	u.tapTransformer()
	return gap
}

// within judges the input window; a bad input must come back a little further
// than it went, so that it does not chatter at the edge.
func (u *UPS) within(volts, hz float64) bool {
	low, high := u.config.LowTransferVolts, u.config.HighTransferVolts
	if !u.feed.Good {
		low, high = low+u.cfg.HysteresisV, high-u.cfg.HysteresisV
	}
	return volts >= low && volts <= high && hz >= u.cfg.LowHz && hz <= u.cfg.HighHz
}

func (u *UPS) loseInput(now vtime.Tick) (gap vtime.Tick) {
	u.note("input", fmt.Sprintf("bad %.1f V %.2f Hz", u.feed.Volts, u.feed.Hz))
	u.lineBads++
	u.qualifyAt = vtime.Never
	if u.testing() {
		u.finishTest(now, snap.ResultAborted, "the mains failed during the test")
	}
	if !u.OutputOn() || u.OnBattery() {
		return 0
	}
	gap = u.toBattery(now)
	if u.feed.Volts >= rideShare*u.config.InputVolts && u.feed.Hz > 0 {
		return 0
	}
	return gap
}

// toBattery transfers the output to the battery.
func (u *UPS) toBattery(now vtime.Tick) (gap vtime.Tick) {
	u.source = snap.SourceBattery
	u.since = now
	u.transfers++
	u.upset()
	u.note("output", fmt.Sprintf("battery after a gap of %d ms", u.cfg.Transfer))
	return u.cfg.Transfer
}

// takeBackMains returns the output to an input that has been good for long enough.
func (u *UPS) takeBackMains(now vtime.Tick) {
	if u.qualifyAt > now || !u.feed.Good {
		return
	}
	u.qualifyAt = vtime.Never
	if u.OnBattery() && !u.testing() {
		u.toMains()
	}
	u.wakeOnMains(now)
}

// toMains puts the output on the mains; tapTransformer says which way.
func (u *UPS) toMains() {
	u.source = snap.SourceNormal
	u.since = vtime.Never
	u.upset()
	u.note("output", u.source.String())
	u.tapTransformer()
}

// wakeOnMains acts on what waited for the mains: a startup that fell due, or
// the automatic restart after a shutdown in a power loss (RFC 1628
// upsAutoRestart, upsStartupAfterDelay). A running startup or reboot countdown
// is waited for.
func (u *UPS) wakeOnMains(now vtime.Tick) {
	counting := u.control.StartupAt != vtime.Never || u.control.RebootUntil != vtime.Never
	automatic := u.inLoss && u.control.AutoRestart && !counting
	if !u.OutputOn() && (u.waiting || automatic) {
		u.switchOn(now)
	}
}

// usable says whether the output may be fed from the mains now.
func (u *UPS) usable() bool { return u.feed.Good && u.qualifyAt == vtime.Never }

// tapTransformer chooses the tap of the autotransformer while the mains feed
// the output; it lets go only when the input is well inside again.
func (u *UPS) tapTransformer() {
	switch u.source {
	case snap.SourceNormal, snap.SourceBooster, snap.SourceReducer:
	default:
		return
	}
	boost, reduce := u.cfg.BoostBelowV, u.cfg.ReduceAboveV
	if u.source == snap.SourceBooster {
		boost += u.cfg.HysteresisV
	}
	if u.source == snap.SourceReducer {
		reduce -= u.cfg.HysteresisV
	}
	tap := snap.SourceNormal
	if u.feed.Volts < boost {
		tap = snap.SourceBooster
	}
	if u.feed.Volts > reduce {
		tap = snap.SourceReducer
	}
	if tap != u.source {
		u.source = tap
		u.note("output", tap.String())
	}
}
