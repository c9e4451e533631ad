package thermal

import "ridethrough/sim/internal/phys/num"

// Cooling takes heat out of a lump so that it is not warmer than SetpointC, as
// far as MaxW (0 or more) goes. It follows the need at once and holds the
// setpoint exactly: no band, no cycling.
type Cooling struct {
	SetpointC, MaxW float64
}

// Cooled is [Span.Step] with cooling. Above the setpoint all of it works until
// the lump is there, below it none does, and there as much as holds it. The step
// is exact.
func (s *Span) Cooled(tempC, lossW, ambientC float64, c Cooling) float64 {
	coldest := s.Step(tempC, lossW-c.MaxW, ambientC)
	warmest := s.Step(tempC, lossW, ambientC)
	switch need := s.net(c.SetpointC, lossW, ambientC); {
	case need > c.MaxW: // too much heat to stay at the setpoint
		if tempC < c.SetpointC && warmest > c.SetpointC {
			return s.beyond(c.SetpointC, tempC, lossW, lossW-c.MaxW, ambientC)
		}
		return max(coldest, min(warmest, c.SetpointC))
	case need < 0: // it falls below by itself
		if tempC > c.SetpointC && coldest < c.SetpointC {
			return s.beyond(c.SetpointC, tempC, lossW-c.MaxW, lossW, ambientC)
		}
		return min(warmest, max(coldest, c.SetpointC))
	}
	return num.Clamp(c.SetpointC, coldest, warmest)
}

// beyond is where a lump ends up that passes the temperature at on its way, with
// firstW up to there and thenW after that.
func (s *Span) beyond(at, tempC, firstW, thenW, ambientC float64) float64 {
	left := s.seconds - s.node.reaches(at, tempC, firstW, ambientC)
	return s.node.Step(at, thenW, ambientC, num.Clamp(left, 0, s.seconds))
}

// reaches is in how many seconds a lump on its way to the temperature at is there.
func (n Node) reaches(at, tempC, lossW, ambientC float64) float64 {
	slope := (lossW - float64(n.CoolWPerK*(tempC-ambientC))) / n.HeatJPerK
	x := n.CoolWPerK / n.HeatJPerK * (at - tempC) / slope // 1 - exp(-t/tau)
	if x < 1e-9 {
		return (at - tempC) / slope
	}
	return -num.Log(1-x) * n.Tau()
}

// Watts is what the cooling takes away at tempC.
func (c Cooling) Watts(n Node, tempC, lossW, ambientC float64) float64 {
	switch {
	case tempC > c.SetpointC:
		return c.MaxW
	case tempC < c.SetpointC:
		return 0
	}
	return num.Clamp(lossW-float64(n.CoolWPerK*(tempC-ambientC)), 0, c.MaxW)
}

// Saturation is the pressure of saturated water vapour over water at tempC, -20
// to 60 degrees Celsius, in hPa: the Magnus form with the constants of the World
// Meteorological Organization's guide no. 8 (6.112, 17.62, 243.12), good to
// 0.3 %; from memory.
func Saturation(tempC float64) float64 {
	return float64(6.112 * num.Exp(17.62*tempC/(243.12+tempC)))
}

// RelativeHumidity is the relative humidity in percent, 0 to 100, at tempC of air
// that had pct at fromC and kept its moisture.
func RelativeHumidity(pct, fromC, tempC float64) float64 {
	return num.Clamp(float64(pct*Saturation(fromC))/Saturation(tempC), 0, 100)
}
