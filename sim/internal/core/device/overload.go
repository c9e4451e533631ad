package device

import (
	"math"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/power"
)

// A way is what stands in the way of the power and may be overloaded.
type way int

const (
	wayInput    way = iota // switches and transformer between input and output
	wayInverter            // battery operation and double conversion
	wayBypass              // the static switch past the converters
	ways
)

// coolEnough is how far what was overloaded must have cooled down, as a share of
// what trips it, before the output returns from the bypass: common practice.
const coolEnough = 0.5

// OverloadLaw is the law of what bears o.
func OverloadLaw(o plan.Overload) power.Overload {
	if o.At125 == 0 {
		return power.Overload{From: math.Inf(1)}
	}
	law := power.OverloadAt(o.At125.Seconds(), 1.25)
	law.From, law.Limit, law.Drain = max(o.Borne, 1), o.Instant, o.Cools.Seconds()
	return law
}

// way is the one that the output is fed through.
func (u *UPS) way() way {
	switch {
	case u.OnBypass():
		return wayBypass
	case u.OnBattery():
		return wayInverter
	}
	return u.wayOfMains()
}

func (u *UPS) wayOfMains() way {
	if u.class.converts(u) {
		return wayInverter
	}
	return wayInput
}

// share is the load as a share of what the unit may carry in the present heat:
// that of the fullest line.
func (u *UPS) share(p *Physics) float64 { return u.loadPct / 100 / u.derating(p) }

// weigh works out how full each line is, in percent of its share of the rating,
// by VA or W, whichever is more; the fullest one counts for the whole.
func (u *UPS) weigh() {
	lines := linesOut(u.cfg)
	u.loadPct = 0
	for i := range lines {
		l := &u.load.Line[i]
		n := float64(lines)
		u.linePct[i] = power.LoadPct(float64(l.Watts*n), float64(l.VA*n), u.cfg.RatingW, u.cfg.RatingVA)
		u.loadPct = max(u.loadPct, u.linePct[i])
	}
}

// strain moves the memory of overload by dt: the way in use fills or cools, the
// others cool.
func (u *UPS) strain(p *Physics, dt vtime.Tick) {
	at := u.way()
	for i := range p.Strain {
		share := 0.0
		if way(i) == at && u.OutputOn() && u.why != causeService {
			share = u.share(p)
		}
		law := &u.laws[i]
		if p.Strain[i] == 0 && share <= law.From {
			continue
		}
		p.Strain[i] = law.Step(p.Strain[i], share, dt.Seconds())
	}
}

// tripped says whether what feeds the output has borne all that it can.
func (u *UPS) tripped(p *Physics) bool {
	at := u.way()
	return u.OutputOn() && u.why != causeService && p.Strain[at] >= 1 && u.share(p) > u.laws[at].From
}

// endOverload takes the load off what can bear it no longer: to the bypass if
// that may carry it, else off.
func (u *UPS) endOverload(now vtime.Tick) {
	if !u.tripped(&u.Physics) {
		return
	}
	if u.OnBypass() {
		u.open(now, snap.Why{Text: "overload of the bypass"})
		return
	}
	u.divert(now, snap.Why{Text: "overload"})
}

// divert takes the output off the unit: to the bypass, or off.
func (u *UPS) divert(now vtime.Tick, why snap.Why) {
	if !u.canBypass() {
		u.open(now, why)
		return
	}
	u.abandonTest(now, why.Text)
	u.toBypass(causeFault, why)
}

// mayReturn says whether the output, on the bypass for a fault, can go back: the
// fault is gone, what was overloaded has cooled down, and nothing will be felt.
func (u *UPS) mayReturn(p *Physics) bool {
	home := u.wayOfMains()
	return u.OnBypass() && u.why == causeFault && u.systemOn && u.usable() &&
		!(home == wayInverter && !u.canInvert()) &&
		p.Strain[home] <= coolEnough && u.share(p) <= u.laws[home].From &&
		u.synchronised(p)
}
