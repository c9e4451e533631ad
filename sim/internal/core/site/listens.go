package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// listen is what the card makes of one contact that it was told of.
type listen struct {
	set   *snap.RosterContact
	seen  plan.Wire // debounced
	state snap.ContactState
	said  snap.ContactState // what it told last
}

// wired is the contact at the input of l, nil if there is none, or no probe to read
// it.
func (s *Site) wired(l *listen) *contact {
	body := s.watches[l.set.At].body
	if body < 0 || l.set.Input > len(s.bodies[body].cfg.Contacts) {
		return nil
	}
	return &s.contacts[s.bodies[body].contacts+l.set.Input-1]
}

// looks is what the input of l is like at this instant: nothing wired is open, or cut.
func (s *Site) looks(l *listen) plan.Wire {
	switch c := s.wired(l); {
	case c != nil:
		return c.loop(l.set.Supervised)
	case l.set.Supervised:
		return plan.WireCut
	}
	return plan.WireOpen
}

// since is when the wire at the input of l last changed.
func (s *Site) since(l *listen) vtime.Tick {
	if c := s.wired(l); c != nil {
		return c.since
	}
	return 0
}

func (l *listen) debounce() vtime.Tick { return vtime.Tick(l.set.DebounceMS) * vtime.Millisecond }

// runContacts lets the contacts move, and the probes see them.
func (s *Site) runContacts(now vtime.Tick) {
	for i := range s.contacts {
		s.contacts[i].bounce(now)
	}
	for i := range s.listens {
		l := &s.listens[i]
		lost := s.watches[l.set.At].body < 0
		if !lost && s.looks(l) != l.seen && s.since(l)+l.debounce() <= now {
			l.seen = s.looks(l)
		}
		s.hear(now, i, lost)
	}
}

// hear takes what was seen of a contact for what it means, and tells of it. That it
// is lost the probe tells.
func (s *Site) hear(now vtime.Tick, i int, lost bool) {
	l := &s.listens[i]
	was := l.state
	if l.state = l.means(); lost {
		l.state = snap.ContactLost
	}
	if l.state != was {
		s.touch()
	}
	if lost || l.state == l.said {
		return
	}
	before := l.said
	l.said = l.state
	s.note("contact "+l.set.Name, l.state.String())
	s.card.Record(now, "contact "+l.set.Name+" ("+string(l.set.Severity)+"): "+l.state.String())
	s.card.Tell(snap.Notification{Kind: snap.NotifyContact, Row: uint8(i + 1), Contact: l.state, Matters: max(l.matters(before), l.matters(l.state))})
	s.hearContact(i)
}

// means is the state that the wire as it was seen stands for.
func (l *listen) means() snap.ContactState {
	switch {
	case l.seen == plan.WireCut:
		return snap.ContactFault
	case (l.seen == plan.WireClosed) == (l.set.Rests == snap.RestsOpen):
		return snap.ContactActive
	}
	return snap.ContactNormal
}

// listenAt is when a probe has seen the change of a contact for long enough.
func (s *Site) listenAt(i int) vtime.Tick {
	l := &s.listens[i]
	if s.watches[l.set.At].body < 0 || s.looks(l) == l.seen {
		return vtime.Never
	}
	return s.since(l) + l.debounce()
}
