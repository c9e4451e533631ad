package battery

import (
	"math"

	"ridethrough/sim/internal/phys/num"
)

// Ageing is the life of a block on float charge. It ends when the capacity is
// down to 80 % (IEEE 1188).
type Ageing struct {
	LifeYears float64 // at 25 C
	HalvingK  float64 // kelvins that halve the life: 8.33 (15 F) as a rule, some makers 10
}

// Life is the life in years at tempC: LifeYears 2^(-(T-25)/HalvingK).
func (a Ageing) Life(tempC float64) float64 {
	return float64(a.LifeYears * num.Exp(-math.Ln2*(tempC-ReferenceC)/a.HalvingK))
}

// Damage is the share of life that years at tempC use up. Shares of different
// times at different temperatures add up.
func (a Ageing) Damage(years, tempC float64) float64 { return years / a.Life(tempC) }

// PerHour is the share of life that an hour at tempC uses up.
func (a Ageing) PerHour(tempC float64) float64 {
	const hoursPerYear = 8766
	return a.Damage(1, tempC) / hoursPerYear
}

// AgedCapacity is the capacity left at a damage of 0 or more: 1 when new, 0.8
// at the end of life (IEEE 1188), falling on at the same rate to 0.05. Real
// blocks first gain a few percent and fall faster at the end.
func AgedCapacity(damage float64) float64 {
	return num.Clamp(1-float64(0.2*damage), 0.05, 1)
}

// AgedResistance is the resistance at a damage of 0 or more: 1 when new, 1.5 at
// the end of life and rising on (an assumption; sources give 1.3 to 2).
func AgedResistance(damage float64) float64 { return 1 + float64(0.5*max(damage, 0)) }

// Retained is the share of charge left after storage at 25 C for months,
// limited to 0..1: 3 % of capacity per month, which is what data sheets print
// (91, 82 and 64 % after 3, 6 and 12 months).
func Retained(months float64) float64 { return num.Clamp(1-float64(0.03*months), 0, 1) }

// SelfDischarge is the current in A that storage at tempC amounts to: [Retained],
// doubled per 10 K (common practice).
func (p *Params) SelfDischarge(tempC float64) float64 {
	const hoursPerMonth = 730.5
	return float64(0.03 * p.C / hoursPerMonth * num.Exp(math.Ln2*(tempC-ReferenceC)/10))
}
