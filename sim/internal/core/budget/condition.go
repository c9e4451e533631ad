package budget

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/phys/battery"
)

// Condition is a battery that the budget has to hold with.
type Condition struct {
	EndOfLife bool
	TempC     float64
	Battery   plan.Battery
}

// String is what people call it.
func (c *Condition) String() string {
	age := "now"
	if c.EndOfLife {
		age = "end of life"
	}
	return fmt.Sprintf("%s, %g C", age, c.TempC)
}

// Conditions are the battery as it is and at the end of its life, each at the coldest
// and at the hottest of its place. At the end of its life it has 80 % of its capacity
// (IEEE 1188) and one and a half times its resistance, or less and more if it is past
// that already; see [battery.AgedResistance].
func Conditions(p *plan.Plan) (list []Condition) {
	temps := []float64{p.Battery.ColdestC}
	if p.Battery.HottestC != p.Battery.ColdestC {
		temps = append(temps, p.Battery.HottestC)
	}
	for _, old := range []bool{false, true} {
		for _, tempC := range temps {
			b := p.Battery
			b.AmbientC = tempC
			if old {
				b.Capacity = min(b.Capacity, battery.AgedCapacity(1))
				b.Resistance = max(b.Resistance, battery.AgedResistance(1))
			}
			list = append(list, Condition{old, tempC, b})
		}
	}
	return list
}
