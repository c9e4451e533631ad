package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// estimateEvery and estimateSlowly are how often the controller computes its
// runtime anew while the battery discharges, counting down in between, and while
// it charges.
const (
	estimateEvery  = 30 * vtime.Second
	estimateSlowly = 60 * vtime.Second
)

// hotC is the battery temperature that raises the alarm: common practice.
const hotC = 50.0

// estimate brings the runtime at the present load up to date: after every change
// of load or source, and as it ages while current flows.
func (u *UPS) estimate(now vtime.Tick) {
	if u.estimatedAt != never && now < u.estimateDue() {
		return
	}
	u.estimatedAt = now
	watts := u.load.Watts + u.onBatt.Loss(u.load.Watts, u.cfg.RatingW)
	u.Physics.RuntimeS = u.cell.Runtime(u.Physics.Cell, watts/u.cells(), u.bat.CutoffV) * 3600
}

// estimateDue is when the estimate has aged; Never while the battery is at rest.
func (u *UPS) estimateDue() vtime.Tick {
	switch {
	case u.discharging():
		return u.estimatedAt + estimateEvery
	case u.feed.Good && !u.chargerDead && u.shownCharge(&u.Physics) < 100:
		return u.estimatedAt + estimateSlowly
	}
	return vtime.Never
}

// shownCharge is the charge in percent as the unit shows it.
func (u *UPS) shownCharge(p *Physics) float64 { return 100 * u.cell.Charge(p.Cell) }

func (u *UPS) stringVolts(p *Physics) float64 { return p.CellVolts * float64(u.bat.Cells) }

// low and depleted are RFC 1628 upsBatteryStatus, on battery or not.
func (u *UPS) low(p *Physics) bool {
	return p.RuntimeS <= float64(u.config.LowBatteryMinutes)*60
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
