package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// reestimate is how often the controller computes its runtime anew while the
// battery changes; in between it counts down.
const reestimate = 30 * vtime.Second

// hotC is the battery temperature that raises the alarm: common practice.
const hotC = 50.0

// estimate brings the runtime at the present load up to date: after every change
// of load or source, and every half minute while current flows.
func (u *UPS) estimate(now vtime.Tick) {
	stale := u.estimatedAt == never
	if !stale && !(u.moving() && now >= u.estimatedAt+reestimate) {
		return
	}
	u.estimatedAt = now
	watts := u.load.Watts + u.onBatt.Loss(u.load.Watts, u.cfg.RatingW)
	u.Physics.RuntimeS = u.cell.Runtime(u.Physics.Cell, watts/u.cells(), u.bat.CutoffV) * 3600
}

// moving says whether the battery's charge changes, so that the estimate ages.
func (u *UPS) moving() bool {
	return u.discharging() || u.feed.Good && !u.chargerDead && u.shownCharge(&u.Physics) < 100
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
