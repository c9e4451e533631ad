package site

import "ridethrough/sim/internal/core/snap"

// resetHealth has the unit take its battery for a new one.
func (s *Site) resetHealth(c snap.Command) snap.Result {
	if s.ups.TestResult() == snap.ResultInProgress {
		return snap.Result{Status: snap.Inconsistent, Reason: "a test of the battery is running"}
	}
	s.card.HealthReset(s.now, c.By, s.view.Battery.HealthPct)
	s.ups.ForgetHealth()
	return snap.Result{}
}

// tellNew is what somebody at the serial line does.
func (s *Site) tellNew() snap.Result {
	if !s.card.Running() {
		return snap.Result{Status: snap.Busy, Reason: "the card does not answer"}
	}
	if lost, is := s.card.RefusesUnit(); is {
		return lost
	}
	return s.resetHealth(snap.Command{By: s.technician()})
}
