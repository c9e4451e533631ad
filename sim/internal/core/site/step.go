package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Next is the next instant to stop at: the next deadline, or a grid that is
// fine after a disturbance and coarse at rest. It depends on simulated state
// only.
func (s *Site) Next() vtime.Tick {
	next := s.ownNext()
	for _, u := range s.others() {
		next = min(next, u.ownNext())
	}
	return next
}

func (s *Site) ownNext() vtime.Tick {
	step := s.ups.Grid()
	if s.now-s.disturbed < 2*vtime.Second {
		step = min(step, 100*vtime.Millisecond)
	}
	if s.room.cfg != nil {
		step = min(step, roomGrid)
	}
	grid := s.now - s.now%step + step // does not depend on stops in between
	return max(s.now+1, min(grid, s.deadline()))
}

func (s *Site) deadline() vtime.Tick {
	next := min(s.ups.Deadline(s.now), s.card.Deadline(s.now), s.policy.next, s.monitor.deadline(), s.line.next(),
		s.utility.deadline(), s.second.deadline(), s.genset.deadline(), s.feeds.sampleAt, s.room.backAt, s.past.next, s.hostsDue, s.servers.deadline(), s.logins.deadline())
	for i := range s.groups {
		next = min(next, s.groups[i].deadline())
	}
	next = min(next, s.shedDue())
	next = min(next, s.switchesDue(s.now), s.wireDue())
	for i := range s.bodies {
		next = min(next, s.bodies[i].next, s.places[i].until)
	}
	for i := range s.contacts {
		next = min(next, s.contacts[i].flipAt)
	}
	for i := range s.listens {
		next = min(next, s.listenAt(i))
	}
	for i := range s.timeServers {
		next = min(next, s.timeServers[i].deadline())
	}
	return next
}

// Try shows the site dt after the last settled instant, all switches as they
// are, in View.
func (s *Site) Try(dt vtime.Tick) *snap.Site {
	others := s.others()
	s.tryUnit(dt)
	for _, u := range others {
		u.tryUnit(dt)
	}
	s.tryRest(dt) // of the first before all that hang on its feeder
	for _, u := range others {
		u.tryRest(dt)
		u.showTried()
	}
	s.showTried()
	return &s.view
}

func (s *Site) tryUnit(dt vtime.Tick) {
	t := &s.tried
	t.physics = s.ups.Physics
	t.flows = s.ups.Advance(&t.physics, dt)
	t.dt = dt
}

func (s *Site) tryRest(dt vtime.Tick) {
	t := &s.tried
	t.motion = s.move(s.motion, &s.ups.Physics, &t.physics, t.flows, dt)
}

func (s *Site) showTried() {
	t := &s.tried
	s.fillMoving(&t.physics, &t.motion, t.flows, s.now+t.dt)
}

// Signature changes its value when something has to be done or shown without
// any event: see [device.UPS.Signature] for the unit, and what it and others make
// of a supply that moves, the rules of outlet groups, and all that of further units.
type Signature struct{ Unit, Supply, Groups, Others uint64 }

// Signature is that of the last step tried.
func (s *Site) Signature() Signature { return s.ofAll((*Site).triedSignature) }

func (s *Site) triedSignature() Signature {
	return s.signature(&s.tried.physics, &s.tried.motion, s.now+s.tried.dt)
}

// Present is the signature at the last settled instant.
func (s *Site) Present() Signature { return s.ofAll((*Site).presentSignature) }

func (s *Site) presentSignature() Signature { return s.signature(&s.ups.Physics, &s.motion, s.now) }

// ofAll is the signature of the first unit with those of all others in it.
func (s *Site) ofAll(signature func(*Site) Signature) Signature {
	sig := signature(s)
	for _, u := range s.others() {
		sig.Others = mixed(sig.Others, signature(u))
	}
	return sig
}

func (s *Site) signature(p *device.Physics, m *motion, t vtime.Tick) Signature {
	sig := Signature{Unit: s.ups.Signature(p), Groups: s.sightOfRules(p)}
	if s.moves() {
		sig.Supply = s.sight(t, m)
	}
	return sig
}

// Commit takes the last step tried.
func (s *Site) Commit() {
	s.commitOwn()
	for _, u := range s.others() {
		u.commitOwn()
	}
}

func (s *Site) commitOwn() {
	s.ups.Physics, s.motion, s.flows = s.tried.physics, s.tried.motion, s.tried.flows
	s.now += s.tried.dt
}

// Rest shows the last settled instant in View again, after a step that was only
// tried.
func (s *Site) Rest() { s.show(s.now) }

// show writes the views of all units at the settled instant now.
func (s *Site) show(now vtime.Tick) {
	for _, u := range s.others() {
		u.fill(now)
	}
	s.fill(now)
}
