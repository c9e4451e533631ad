package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// supply is the utility: what it delivers until told otherwise, and a passing
// disturbance over it.
type supply struct {
	baseVolts, baseHz float64
	until             vtime.Tick // end of the disturbance; Never: none
}

func newSupply(src plan.Source) supply {
	return supply{baseVolts: src.Volts, baseHz: src.Hz, until: vtime.Never}
}

// disturb changes the supply for lasts, or for good when lasts is 0.
func (s *Site) disturb(now vtime.Tick, volts, hz float64, lasts vtime.Tick) {
	s.supply.until = vtime.Never
	if lasts > 0 {
		s.supply.until = now + lasts
	} else {
		s.supply.baseVolts, s.supply.baseHz = volts, hz
	}
	s.feed(now, volts, hz)
}

func (s *Site) endOverlay(now vtime.Tick) {
	if s.supply.until > now {
		return
	}
	s.supply.until = vtime.Never
	s.note("source", "disturbance over")
	s.feed(now, s.supply.baseVolts, s.supply.baseHz)
}

func (s *Site) feed(now vtime.Tick, volts, hz float64) {
	if gap := s.ups.SetFeed(now, volts, hz); gap > 0 {
		s.gapHosts(now, gap)
	}
}
