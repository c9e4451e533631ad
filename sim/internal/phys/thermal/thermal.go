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
// tempC, with lossW heating the lump and the surroundings at ambientC.
func (n Node) Step(tempC, lossW, ambientC, dtSeconds float64) float64 {
	span := n.Over(dtSeconds)
	return span.Step(tempC, lossW, ambientC)
}

// Span is a node over one length of time: what of a step does not depend on
// temperatures, worked out once.
type Span struct {
	node    Node
	seconds float64
	factor  float64 // kelvins for each watt
}

// Over is n over dtSeconds (0 or more). It is exact: the present slope times dt
// times (1 - exp(-x))/x with x = dt/tau, which is 1 for a lump that loses
// nothing.
func (n Node) Over(dtSeconds float64) Span {
	share := 1.0
	if x := dtSeconds * n.CoolWPerK / n.HeatJPerK; x > 0 {
		share = -num.Expm1(-x) / x
	}
	return Span{node: n, seconds: dtSeconds, factor: float64(dtSeconds*share) / n.HeatJPerK}
}

// Step is the temperature at the end of the span; see [Node.Step].
func (s *Span) Step(tempC, lossW, ambientC float64) float64 {
	return tempC + float64(s.net(tempC, lossW, ambientC)*s.factor)
}

// net is the heat that stays in the lump at the beginning of the span, in W.
func (s *Span) net(tempC, lossW, ambientC float64) float64 {
	return lossW - float64(s.node.CoolWPerK*(tempC-ambientC))
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
