package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// beginService closes the switch by hand around the unit: what is on the other
// side feeds the output from now on, and the unit has no say in it.
func (u *UPS) beginService(now vtime.Tick) string {
	switch {
	case u.why == causeService:
		return "the maintenance bypass is closed already"
	case !u.alive():
		return "the bypass is dead"
	}
	u.abandonTest(now, "the maintenance bypass was closed")
	if u.OutputOn() {
		u.fall(u.changeGap())
	}
	u.serve(snap.Why{Text: "by hand"})
	return ""
}

// serve feeds the output from the maintenance bypass.
func (u *UPS) serve(why snap.Why) {
	u.outputOn = true
	u.putOn(snap.SourceBypass)
	u.why = causeService
	u.waiting, u.asked, u.inLoss = false, false, false
	u.startAt = vtime.Never
	u.says(snap.What{Kind: snap.WhatOutput, Source: u.source, Why: why}, "output", "maintenance bypass: "+why.Text)
}

// followService acts on what the supply does while the maintenance bypass is
// closed: equipment rides through a short loss, a longer one is the end, and
// what comes back feeds the output at once.
func (u *UPS) followService(now vtime.Tick) {
	alive := u.alive()
	switch {
	case u.OnBypass() && !alive && u.deadAt == vtime.Never:
		u.deadSince, u.deadAt = now, now+deadAfter
		u.upset()
	case u.OnBypass() && alive && u.deadAt != vtime.Never:
		u.fall(now - u.deadSince)
		u.deadAt = vtime.Never
		u.upset()
	case !u.OnBypass() && alive:
		u.serve(snap.Why{Text: "alive again"})
	}
}
