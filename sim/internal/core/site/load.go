package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/vtime"
)

// load is what the unit's outlets draw. A host with several live outlets shares
// its load between them evenly; what it draws past the unit, and what all hosts
// draw, is noted on the way, and the groups are metered.
func (s *Site) load(now vtime.Tick) (l device.Load) {
	s.hostsW, s.directW = 0, 0
	meters := s.meters[:len(s.groups)]
	clear(meters)
	for i := range s.hosts {
		h := &s.hosts[i]
		watts := h.draw()
		s.hostsW += watts
		ups, past := s.outlets(h)
		if ups+past == 0 { // it lives on what it holds
			continue
		}
		share := watts / float64(ups+past)
		for _, g := range h.cfg.Groups {
			switch {
			case !s.groups[g].on:
			case s.own(g):
				meters[g] += share
			case s.groups[g].cfg.FromMains && s.leads(): // it hangs on the feeder of the first
				s.directW += share
			}
		}
		watts = float64(share * float64(ups))
		l.Add(h.cfg.Line, s.plan.UPS.LinesOut, watts, watts/h.cfg.PowerFactor)
	}
	s.addInrush(&l)
	s.meter(now, meters)
	return l
}

// addInrush adds what groups draw beyond their nominal current just after they
// became live. It is current without power, or nearly so: it charges the hosts'
// supplies.
func (s *Site) addInrush(l *device.Load) {
	for i := range s.groups {
		g := &s.groups[i]
		if g.rushes == vtime.Never || !s.own(i) {
			continue
		}
		for k := range s.hosts {
			cfg := s.hosts[k].cfg
			for _, fed := range cfg.Groups {
				if fed == i {
					va := cfg.DrawW / cfg.PowerFactor / float64(len(cfg.Groups))
					l.Add(cfg.Line, s.plan.UPS.LinesOut, 0, float64(va*(g.cfg.Inrush.Times-1)))
				}
			}
		}
	}
}
