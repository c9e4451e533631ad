package thermal

import (
	"math"

	"ridethrough/sim/internal/phys/num"
)

// Node is one lump. HeatJPerK is more than 0, CoolWPerK is 0 or more.
type Node struct {
	HeatJPerK float64 // heat capacity, J/K
	CoolWPerK float64 // conductance to the surroundings, W/K
}

// Step is the temperature in degrees Celsius after dtSeconds (0 or more) from
// tempC, with lossW heating the lump and the surroundings at ambientC. It is
// exact: the present slope times dt times (1 - exp(-x))/x with x = dt/tau, which
// is 1 for a lump that loses nothing.
func (n Node) Step(tempC, lossW, ambientC, dtSeconds float64) float64 {
	slope := (lossW - float64(n.CoolWPerK*(tempC-ambientC))) / n.HeatJPerK
	share := 1.0
	if x := dtSeconds * n.CoolWPerK / n.HeatJPerK; x > 0 {
		share = -num.Expm1(-x) / x
	}
	return tempC + float64(slope*dtSeconds*share)
}

// Tau is the time constant in seconds, infinite for a lump that loses nothing.
func (n Node) Tau() float64 {
	if n.CoolWPerK == 0 {
		return math.Inf(1)
	}
	return n.HeatJPerK / n.CoolWPerK
}

// Rise is by how many kelvins the lump ends up above its surroundings,
// infinite for a lump that is heated and loses nothing.
func (n Node) Rise(lossW float64) float64 {
	if lossW == 0 {
		return 0
	}
	return lossW / n.CoolWPerK
}
