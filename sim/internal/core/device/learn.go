package device

import "fmt"

// The least and most that the controller can learn of the capacity, as shares of
// the rated one.
const (
	leastLearned = 0.05
	mostLearned  = 1.3
)

// learn takes from the end of a calibration what the cells hold: the capacity at
// which the charge that was counted explains the voltage that is measured. What
// a higher resistance takes off the voltage goes to the capacity's account, so
// that the runtime comes out right near the load of the calibration.
func (u *UPS) learn() {
	p := &u.Physics
	lo, hi := leastLearned*u.rated.C, mostLearned*u.rated.C
	found := *u.believed
	for range 50 {
		found.C = (lo + hi) / 2
		if found.Volts(p.Belief.Cell, p.CellAmps) < p.CellVolts {
			lo = found.C
		} else {
			hi = found.C
		}
	}
	found.C = lo
	u.believed = &found
	u.upset()
	u.note("battery", fmt.Sprintf("the calibration found %.1f %% of the rated capacity", u.shownHealth()))
}

// shownHealth is the capacity that the controller knows of, in percent of the
// rated one.
func (u *UPS) shownHealth() float64 { return 100 * u.believed.C / u.rated.C }

// surprised says whether the battery ended although, by what the controller
// knows, it had more to give: the voltage stands far below the expected one.
func (u *UPS) surprised(p *Physics) bool {
	const margin = 0.05 // V per cell
	amps, ok := u.believed.AmpsForPower(p.Belief.Cell, u.batteryWatts(u.load.Watts)/u.cells())
	return ok && u.believed.Volts(p.Belief.Cell, amps) > u.bat.CutoffV+margin
}

// ranDry has the controller accept that nothing is left in a battery that ended
// before its time.
func (u *UPS) ranDry() {
	p := &u.Physics
	if !u.surprised(p) {
		return
	}
	u.batteryBad = true
	p.Belief.Cell = u.believed.AtCharge(0)
	u.note("battery", "ended before its time")
	u.upset()
}

// ForgetHealth has the controller take the battery for a new one of its rating,
// charged as it took the old one to be: what tests and calibrations have found is
// no longer so.
func (u *UPS) ForgetHealth() {
	charge := u.shownCharge(&u.Physics) / 100
	u.believed = believes(&u.store)
	u.Physics.Belief.Cell = u.believed.AtCharge(charge)
	u.batteryBad = false
	u.upset()
	u.note("battery", "taken for a new one")
}
