package device

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
)

// Replace puts new blocks into the battery, charged to percent as they were
// delivered; with left one block of the old battery stays in a string. The controller
// sees the voltage of what it has now, and knows of the change nothing: that takes
// [UPS.ForgetHealth]. It is refused while the battery carries the load.
func (u *UPS) Replace(percent float64, left plan.OldBlock) bool {
	if u.discharging() {
		return false
	}
	old := &u.design.bat
	d := *u.design
	d.bat.Capacity, d.bat.Resistance, d.bat.OpenStrings = 1, 1, 0
	d.bat.Weak = leftOver(old, u.Physics.Wear, left)
	pack := d.bat.Pack(u.Physics.RestC, 0)
	d.pack = &pack
	before := u.StoredWh(&u.Physics)
	u.design = &d
	u.store = newStore(&d)
	u.store.make(u.Physics.RestC, 0, u.steps)
	u.store.tune(u.Physics.TempC)
	u.Physics.Wear = 0
	u.Physics.Pack = u.store.pack.AtCharge(percent / 100)
	u.Physics.Belief.Cell = u.believed.AtCharge(percent / 100)
	u.store.movedWh = u.store.pack.StoredWh(&u.Physics.Pack) - before // came by hand
	u.truthAt = never
	u.upset()
	u.note("battery", fmt.Sprintf("new blocks, %.0f %% charged%s", percent, map[plan.OldBlock]string{plan.NoOldBlock: "", plan.AgedBlock: ", one aged block left in", plan.FaultyBlock: ", the faulty block left in"}[left]))
	return true
}

// leftOver is the block of the old battery that stays, beside new ones.
func leftOver(old *plan.Battery, wear float64, left plan.OldBlock) *plan.WeakBlock {
	if left == plan.NoOldBlock {
		return nil
	}
	rated, aged := old.Params(), old.Aged(wear)
	w := plan.WeakBlock{Capacity: min(aged.C/rated.C, 1), Resistance: max(aged.R/rated.R, 1)}
	if left == plan.FaultyBlock && old.Weak != nil {
		w.Capacity, w.Resistance = float64(w.Capacity*old.Weak.Capacity), float64(w.Resistance*old.Weak.Resistance)
	}
	return &w
}
