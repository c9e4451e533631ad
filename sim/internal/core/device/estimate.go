package device

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/num"
)

// Belief is what the controller has made of its measurements: how the cells
// stand if they are what it takes them for, and the load as its filter sees it.
type Belief struct {
	Cell  battery.State
	LoadW float64
}

// estimateEvery and estimateSlowly are how often the controller computes its
// runtime anew while the battery discharges, counting down in between, and while
// it charges; estimateSoon, while its view of the load still moves.
const (
	estimateEvery  = 30 * vtime.Second
	estimateSlowly = 5 * vtime.Minute
	estimateSoon   = 5 * vtime.Second
	// truthSlowly is how often the true runtime of a battery with a weak block, which
	// takes long to work out, is computed anew while it charges.
	truthSlowly = 10 * vtime.Minute
)

// hotC is the battery temperature that raises the alarm: common practice.
const hotC = 50.0

// believes is what the controller takes a cell for: the block when new and at
// 25 C, or one as it is, the worst of a string if it has learned.
func believes(s *store) *battery.Params {
	if !s.of.bat.Estimate.Learned {
		return &s.of.rated
	}
	p := s.of.bat.Believed()
	return &p
}

// observe moves the belief by dt: the counter counts what it measures, with its
// error, and begins anew at a full battery.
func (u *UPS) observe(p *Physics, step *battery.Step, dt vtime.Tick) {
	b := &p.Belief
	amps := float64(p.counted * (1 + u.bat.Estimate.GainPct/100))
	b.Cell = step.ConstantCurrent(u.believed, b.Cell, amps)
	b.Cell.Q = min(b.Cell.Q, u.believed.C)
	if u.looksFull(p) {
		b.Cell.Q = 0
	}
	b.LoadW = u.settled(b.LoadW, dt)
}

// looksFull says whether the charger's current says that the battery is full.
func (u *UPS) looksFull(p *Physics) bool {
	into := -p.CellAmps
	if m := u.bat.Management; m != nil {
		return into > 0 && into <= m.FullA && p.CellVolts >= m.FullV
	}
	return into > 0 && into <= 1.5*u.store.charger.FloatA
}

// settled is the filtered load dt later.
func (u *UPS) settled(watts float64, dt vtime.Tick) float64 {
	if u.bat.Estimate.Filter <= 0 {
		return u.load.Watts
	}
	left := num.Exp(-dt.Seconds() / u.bat.Estimate.Filter.Seconds())
	return u.load.Watts + float64((watts-u.load.Watts)*left)
}

// meetLoad has the controller know the load of tick 0, which it has carried for
// long.
func (u *UPS) meetLoad() {
	if !u.knowsLoad {
		u.knowsLoad = true
		u.Physics.Belief.LoadW = u.load.Watts
	}
}

// seenLoad is the load that the controller reckons with.
func (u *UPS) seenLoad() float64 {
	if u.bat.Estimate.Filter <= 0 {
		return u.load.Watts
	}
	return u.Physics.Belief.LoadW
}

// estimate brings the runtime at the present load up to date: after every change
// of load or source, and as it ages while current flows.
func (u *UPS) estimate(now vtime.Tick) {
	if u.estimatedAt == never || now >= u.estimateDue() {
		u.estimatedAt = now
		u.changes++
		watts := u.batteryWatts(u.seenLoad())
		u.Physics.RuntimeS = u.believed.Runtime(u.Physics.Belief.Cell, watts/u.cells(), u.bat.CutoffV) * 3600
	}
	if u.truthAt == never || now >= u.truthDue() {
		u.truthAt = now
		u.changes++
		u.Physics.TrueRuntimeS = u.trueRuntime()
	}
}

func (u *UPS) batteryWatts(load float64) float64 {
	return load + u.onBatt.Loss(load, u.cfg.RatingW)
}

// trueRuntime is how long the battery as it is would carry the present load, in
// seconds.
func (u *UPS) trueRuntime() float64 {
	p, cutoff := &u.Physics, u.bat.CutoffV
	if m := u.bat.Management; m != nil {
		if p.TempC <= m.DischargeMinC || p.TempC >= m.DischargeMaxC {
			return 0
		}
		cutoff = max(cutoff, m.LowV)
	}
	return u.store.pack.Runtime(p.Pack, u.batteryWatts(u.load.Watts), cutoff) * 3600
}

// estimateDue is when the estimate has aged; Never while the battery is at rest.
func (u *UPS) estimateDue() vtime.Tick {
	switch {
	case math.Abs(u.seenLoad()-u.load.Watts) > float64(0.01*u.load.Watts)+1:
		return u.estimatedAt + estimateSoon
	case u.discharging():
		return u.estimatedAt + estimateEvery
	case u.feed.Good && !u.chargerDead && u.shownCharge(&u.Physics) < 100:
		return u.estimatedAt + estimateSlowly
	}
	return vtime.Never
}

// truthDue is when the true runtime has to be worked out anew: only while the
// battery charges, for at a constant load it runs down by the clock.
func (u *UPS) truthDue() vtime.Tick {
	if u.discharging() || !u.feed.Good || u.chargerDead || u.store.pack.Charge(&u.Physics.Pack) >= 1 {
		return vtime.Never
	}
	if u.store.pack.Weak > 0 {
		return u.truthAt + truthSlowly
	}
	return u.truthAt + estimateSlowly
}

// shownCharge is the charge in percent as the unit shows it.
func (u *UPS) shownCharge(p *Physics) float64 { return 100 * u.believed.Charge(p.Belief.Cell) }

// shownRuntime is the runtime in seconds as the unit shows it, rounded down to
// its quantum.
func (u *UPS) shownRuntime(p *Physics) float64 {
	if u.bat.Estimate.Quantum <= 0 {
		return p.RuntimeS
	}
	q := u.bat.Estimate.Quantum.Seconds()
	return float64(q * math.Floor(p.RuntimeS/q))
}

func (u *UPS) stringVolts(p *Physics) float64 { return p.CellVolts * float64(u.bat.Cells) }

// low and depleted are RFC 1628 upsBatteryStatus, on battery or not. Both trust
// the estimate.
func (u *UPS) low(p *Physics) bool {
	return u.shownRuntime(p) <= float64(u.config.LowBatteryMinutes)*60
}

func (u *UPS) depleted(p *Physics) bool { return p.RuntimeS < depletedS }

func (u *UPS) status(p *Physics) snap.BatteryStatus {
	switch {
	case u.depleted(p):
		return snap.BatteryDepleted
	case u.low(p):
		return snap.BatteryLow
	}
	return snap.BatteryNormal
}
