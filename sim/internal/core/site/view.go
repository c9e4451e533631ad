package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// fill writes the view at the settled instant now.
func (s *Site) fill(now vtime.Tick) { s.fillMoving(&s.ups.Physics, &s.motion, s.flows, now) }

// fillMoving writes the view: what changes only at instants if something
// happened, and always what the physics move.
func (s *Site) fillMoving(p *device.Physics, m *motion, f device.Flows, now vtime.Tick) {
	v := &s.view
	if s.stale {
		s.stale = false
		s.fillStates(v)
	} else if s.shown.tick == now && s.shown.changes == s.ups.Changes() && s.shown.flows == f && s.shown.motion == *m {
		return // the physics move with time, and else only with a change that is counted
	}
	s.shown.tick, s.shown.flows, s.shown.motion, s.shown.changes = now, f, *m, s.ups.Changes()
	s.filled++
	v.Tick = now
	s.ups.Readings(&v.Device, p, f)
	s.ups.Truth(v, p, f)
	v.Power.BatteryWh = s.storedAt - s.ups.StoredWh(p)
	v.Room = s.room.view(p, m)
	if s.moves() {
		s.fillSupply(v, now, m)
	}
}

func (s *Site) fillStates(v *snap.Site) {
	v.Held = s.held
	if s.bond != nil && s.leads() {
		v.Units = s.bond.views
	}
	v.Unit = s.plan.UnitName
	v.Start, v.PeakPct = s.plan.Start, s.peakPct
	s.viewNetwork(&v.Net)
	s.ups.View(&v.Device)
	s.card.View(&v.Device)
	v.Card.Port = nil
	if s.traffic != nil {
		v.Card.Port = s.traffic.link.port
	}
	v.Card.USM = s.usmStats(v.Card.StartedAt)
	v.Sent = s.card.Sent()
	v.Acked, v.Unacked = s.delivery()
	v.Posts, v.Warned = s.card.Posts(), s.card.Warned()
	v.Sinks = s.viewSinks()
	s.weighGroups()
	v.SignIns = s.card.SignIns()
	v.SignIns.Last, v.SignIns.Took, v.SignIns.Unattended = s.logins.last, s.logins.took, s.logins.unattended(s.card.SignedIn)
	v.Outlets = s.seenOutlets()
	v.Energy = s.energy
	s.fillSurroundings(&v.Device)
	v.Policy, v.Shutdowns, v.Called, v.Monitor = s.policy.stage, uint32(s.policy.begun), s.policy.called, s.monitor.view()
	g := s.feeder().genset
	v.Supply = snap.Supply{
		Switch: g.position, Generator: g.state,
		Events: s.feeds.events, NotBorne: s.feeds.notBorne,
	}
	for i := range s.hosts {
		v.Hosts[i] = s.hosts[i].view()
	}
	for i := range s.groups {
		v.Groups[i] = s.groupView(i)
	}
}
