package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// rattle is how long a bouncing contact stays in one position: common practice.
const rattle = 4 * vtime.Millisecond

// contact is one dry contact: what its wire is like, and what the probe makes of it.
type contact struct {
	cfg   *plan.Contact
	probe int

	wire   plan.Wire  // now
	rests  plan.Wire  // where it comes to rest
	until  vtime.Tick // it bounces until then; Never: it rests
	flipAt vtime.Tick // next bounce; Never
	since  vtime.Tick // that the wire is as it is

	seen plan.Wire // debounced
}

// newContacts are the contacts of p, none of them reporting anything.
func newContacts(p *plan.Plan) (list []contact) {
	for i := range p.Probes {
		for k := range p.Probes[i].Contacts {
			c := contact{cfg: &p.Probes[i].Contacts[k], probe: i, until: vtime.Never, flipAt: vtime.Never}
			if !c.cfg.Closes {
				c.wire, c.rests, c.seen = plan.WireClosed, plan.WireClosed, plan.WireClosed
			}
			list = append(list, c)
		}
	}
	return list
}

// move brings the wire to another state, which it bounces into for a time. A cut
// does not bounce; without supervision it looks like an open contact.
func (c *contact) move(now vtime.Tick, to plan.Wire, bounces vtime.Tick) {
	if to == plan.WireCut && !c.cfg.Supervised {
		to = plan.WireOpen
	}
	c.rests, c.until, c.flipAt = to, vtime.Never, vtime.Never
	if bounces > 0 && to != plan.WireCut {
		c.until, c.flipAt = now+bounces, now+min(rattle, bounces)
	}
	c.turn(now, to)
}

func (c *contact) turn(now vtime.Tick, to plan.Wire) {
	if c.wire != to {
		c.wire, c.since = to, now
	}
}

// bounce is what a contact does that has not come to rest.
func (c *contact) bounce(now vtime.Tick) {
	switch {
	case c.flipAt > now:
	case c.until <= now:
		c.until, c.flipAt = vtime.Never, vtime.Never
		c.turn(now, c.rests)
	default:
		c.flipAt = min(now+rattle, c.until)
		c.turn(now, map[plan.Wire]plan.Wire{plan.WireOpen: plan.WireClosed, plan.WireClosed: plan.WireOpen}[c.wire])
	}
}

func (c *contact) deadline() vtime.Tick {
	if c.wire != c.seen {
		return min(c.flipAt, c.since+c.cfg.Debounce)
	}
	return c.flipAt
}

// state is what the wire as it was seen means.
func (c *contact) state() snap.ContactState {
	switch {
	case c.seen == plan.WireCut:
		return snap.ContactFault
	case (c.seen == plan.WireClosed) == c.cfg.Closes:
		return snap.ContactActive
	}
	return snap.ContactNormal
}

// runContacts lets the probes see their contacts.
func (s *Site) runContacts(now vtime.Tick) {
	for i := range s.contacts {
		c := &s.contacts[i]
		c.bounce(now)
		if c.wire == c.seen || c.since+c.cfg.Debounce > now {
			continue
		}
		c.seen = c.wire
		s.note("contact "+c.cfg.Name, c.state().String())
		s.tellContact(i)
	}
}

// contactState is what the card knows of a contact: nothing without the probe.
func (s *Site) contactState(i int) snap.ContactState {
	if c := &s.contacts[i]; !s.probes[c.probe].unplug {
		return c.state()
	}
	return snap.ContactLost
}

func (s *Site) tellContact(i int) {
	if state := s.contactState(i); state != snap.ContactLost { // the probe tells that it is lost
		s.card.Tell(snap.Notification{Kind: snap.NotifyContact, Row: uint8(i + 1), Contact: state})
		s.hearContact(i)
	}
}

// moveContact is the timeline's.
func (s *Site) moveContact(now vtime.Tick, a plan.Action) {
	c := &s.contacts[a.Contact]
	s.note("bench", "contact "+c.cfg.Name+" "+[...]string{plan.WireOpen: "open", plan.WireClosed: "closed", plan.WireCut: "cut"}[a.Wire])
	c.move(now, a.Wire, a.Change.Lasts)
}
