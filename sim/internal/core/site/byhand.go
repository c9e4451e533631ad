package site

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const tooWarm = "the inlet is too warm"

// inletHot says whether the probe of the policy shows more than its limit. The card
// has just been asked.
func (s *Site) inletHot() bool {
	cfg := s.plan.Policy
	if cfg.Inlet == "" {
		return false
	}
	if cfg.BatteryAsInlet {
		return math.Round(s.view.Seen().Battery.TempC) > cfg.InletAbove // upsBatteryTemperature is in whole degrees
	}
	for i := range s.view.Probes.List[:s.view.Probes.Count] {
		p := &s.view.Probes.List[i]
		if p.Name == cfg.Inlet && p.State != snap.ProbeLost && p.State != snap.ProbeUnpaired {
			return p.TempC > cfg.InletAbove
		}
	}
	return false
}

// byHand is somebody at the shutdown manager. What has begun is not begun once more:
// there is one shutdown, and it ends as it was begun to unless somebody stops the site
// by hand on top of it.
func (s *Site) byHand(now vtime.Tick, order string) {
	p := &s.policy
	switch stage := p.stage; {
	case order == "start" && !p.held:
		s.note("policy", "start by hand: nothing waits for it")
	case order == "start":
		p.held = false
		s.note("policy", "may start again: by hand")
	case stage == snap.PolicyWatching || stage == snap.PolicyConfirming:
		s.commit(now, "by hand", true)
	default:
		if p.held = true; p.offAt != vtime.Never && p.cfg.StartDelay != vtime.Never {
			p.onWord = s.order(now, snap.Assignment{Var: snap.VarStartupAfter, Int: -1})
		}
		s.note("policy", "stop by hand: under way already, stays off until somebody says")
	}
}
