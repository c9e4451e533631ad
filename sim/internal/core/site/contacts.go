package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// rattle is how long a bouncing contact stays in one position: common practice.
const rattle = 4 * vtime.Millisecond

// contact is one dry contact: what its wire is like.
type contact struct {
	cfg *plan.Contact

	wire   plan.Wire  // now
	rests  plan.Wire  // where it comes to rest
	until  vtime.Tick // it bounces until then; Never: it rests
	flipAt vtime.Tick // next bounce; Never
	since  vtime.Tick // that the wire is as it is
}

// newContacts are the contacts of p, none of them reporting anything.
func newContacts(p *plan.Plan) (list []contact) {
	for i := range p.Probes {
		for k := range p.Probes[i].Contacts {
			c := contact{cfg: &p.Probes[i].Contacts[k], until: vtime.Never, flipAt: vtime.Never}
			if !c.cfg.Closes {
				c.wire, c.rests = plan.WireClosed, plan.WireClosed
			}
			list = append(list, c)
		}
	}
	return list
}

// move brings the wire to another state, which it bounces into for a time. A cut
// does not bounce.
func (c *contact) move(now vtime.Tick, to plan.Wire, bounces vtime.Tick) {
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

// loop is what an input tells of the wire: closed, open by its resistor if it has
// one, else as good as cut. An input that does not look for the resistor knows
// open and closed.
func (c *contact) loop(supervised bool) plan.Wire {
	switch {
	case c.wire == plan.WireClosed:
		return plan.WireClosed
	case !supervised, c.wire == plan.WireOpen && c.cfg.Supervised:
		return plan.WireOpen
	}
	return plan.WireCut
}

// moveContact is the timeline's.
func (s *Site) moveContact(now vtime.Tick, a plan.Action) {
	c := &s.contacts[a.Contact]
	s.note("bench", "contact "+c.cfg.Name+" "+[...]string{plan.WireOpen: "open", plan.WireClosed: "closed", plan.WireCut: "cut"}[a.Wire])
	c.move(now, a.Wire, a.Change.Lasts)
}
