package site

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// takeOutletSettings hands the unit what is in force on the card, if that has
// contact with it. The unit goes by it until it is told something else, also while
// the card restarts.
func (s *Site) takeOutletSettings() {
	if s.card.Running() && s.card.HasUnit() {
		s.followSettings()
	}
}

func (s *Site) followSettings() {
	in := s.card.InForce()
	if s.ups.Gate() != in.Restart {
		s.ups.SetGate(in.Restart)
		s.touch()
	}
	if least := in.Upkept().LeastBad; s.ups.LeastBad() != least {
		s.ups.SetLeastBad(least)
	}
	if len(in.Groups) == 0 || s.rules == &in.Groups[0] {
		return
	}
	s.rules = &in.Groups[0]
	for i := range s.groups {
		g := &s.groups[i]
		if k := slices.IndexFunc(in.Groups, func(set snap.OutletGroup) bool { return set.Name == g.cfg.Name }); k >= 0 {
			g.set = &in.Groups[k]
		}
	}
	s.ruled = slices.ContainsFunc(in.Groups, func(g snap.OutletGroup) bool { return g.ShedPct > 0 || g.ShedRuntime > 0 || g.MinPct > 0 })
	s.roster = s.toldRoster(in.Groups)
	s.proveMap()
	s.touch()
}

// keepOnBattery keeps since when an outage has had the output on battery, by the
// unit's own clock: a restart of the card does not touch it.
func (s *Site) keepOnBattery(now vtime.Tick) {
	switch outage := s.ups.OnBattery() && !s.ups.Testing(); {
	case !outage:
		s.outageAt = vtime.Never
	case s.outageAt == vtime.Never:
		s.outageAt = now
	}
}

// applyRules sheds a group on battery by what is set for it. It comes back with the
// mains.
func (s *Site) applyRules(now vtime.Tick, i int) {
	g := &s.groups[i]
	if s.outageAt == vtime.Never {
		g.weak = false
		return
	}
	if g.weak {
		return
	}
	why := s.shedBy(now, g)
	if g.weak = why != ""; g.weak && g.on {
		s.tellOfGroup(i, snap.What{Kind: snap.WhatGroupShed, Why: snap.Why{Text: why}}, "shed: "+why)
		s.card.Record(now, "group "+g.cfg.Name+" shed: "+why)
	}
}

// shedBy is the rule by which a group has to go off now, "" if there is none.
func (s *Site) shedBy(now vtime.Tick, g *group) string {
	p := &s.ups.Physics
	switch {
	case g.set.ShedAfter != vtime.Never && now-s.outageAt >= g.set.ShedAfter:
		return "on battery for " + g.set.ShedAfter.Duration().String()
	case g.set.ShedRuntime > 0 && s.ups.RuntimeS(p) < g.set.ShedRuntime.Seconds():
		return "less than " + g.set.ShedRuntime.Duration().String() + " of runtime left"
	case s.ups.Charge(p) < float64(g.set.ShedPct):
		return fmt.Sprintf("charge below %d %%", g.set.ShedPct)
	}
	return ""
}

// shedDue is when the next rule about time on battery falls due.
func (s *Site) shedDue() vtime.Tick {
	next := vtime.Never
	if s.outageAt == vtime.Never {
		return next
	}
	for i := range s.groups {
		if g := &s.groups[i]; s.own(i) && !g.weak && g.set.ShedAfter != vtime.Never {
			next = min(next, s.outageAt+g.set.ShedAfter)
		}
	}
	return next
}

// sightOfRules changes its value when a group has to be switched by what moves:
// two bits for each.
func (s *Site) sightOfRules(p *device.Physics) (sig uint64) {
	if !s.ruled {
		return 0
	}
	charge, runtimeS := s.ups.Charge(p), s.ups.RuntimeS(p)
	for i := range s.groups {
		g := &s.groups[i]
		if !s.own(i) {
			continue
		}
		if s.outageAt != vtime.Never && (charge < float64(g.set.ShedPct) || runtimeS < g.set.ShedRuntime.Seconds()) {
			sig |= 1 << (2 * i)
		}
		if g.short && charge >= float64(g.set.MinPct) {
			sig |= 2 << (2 * i)
		}
	}
	return sig
}
