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
