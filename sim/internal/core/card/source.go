package card

import (
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// strangeSource says why a receiver's source address in s is none of the card's, "" if none is
// strange. What these settings fix themselves has been looked at; what is left has to be
// one of now. What was saved before stays: a lease may come back.
func (c *Card) strangeSource(s *snap.Settings) string {
	before := c.kept.Settings.Alerting().Receivers
	for _, r := range s.Alerting().Receivers {
		known := slices.ContainsFunc(before, func(b snap.Receiver) bool { return b.Name == r.Name && b.Source == r.Source })
		if !r.Source.IsValid() || known || c.address.all().Has(r.Source) || fixes(s, r.Source) {
			continue
		}
		return fmt.Sprintf("alerts.receivers.%s.source: the card does not have %v: it has %s; type one that it has, or auto",
			r.Name, r.Source, c.address.all().All())
	}
	return ""
}

// fixes says whether s has the card be at addr.
func fixes(s *snap.Settings, addr netip.Addr) bool {
	l := s.Link()
	return s.Mode == snap.AddressFixed && (s.Fixed.Addr() == addr || l.Second == addr) || l.V6Mode == snap.V6Fixed && l.V6Address.Addr() == addr
}

// Holds says whether nothing leaves for the receiver of that number, from 0, because the
// card does not have the address that it is to leave from. When that begins, and of what
// somebody has asked for each time, it is in the journal and told as undelivered; when it
// ends it is in the journal.
func (c *Card) Holds(now vtime.Tick, i int, r *snap.Receiver, asked bool) bool {
	held, bit := r.Source.IsValid() && !c.address.all().Has(r.Source), uint8(1)<<i
	switch told := c.held&bit != 0; {
	case held && (asked || !told):
		text := fmt.Sprintf("nothing leaves for receiver %s: the card does not have %v, it has %s", r.Name, r.Source, c.address.all().All())
		c.note("card", text)
		c.journal.add(now, text)
		c.Hear(snap.EventUndelivered, 0, true, text)
	case !held && told:
		c.journal.add(now, fmt.Sprintf("receiver %s is sent to again, from %v", r.Name, c.address.now.Own(r.To.Addr())))
	}
	c.held &^= bit
	if held {
		c.held |= bit
	}
	return held
}

// all are the card's addresses, with the second one of IPv4 if it has that: the first one is of
// the same network, and no other machine has it.
func (a *addressing) all() snap.Address {
	now, second := a.now, a.set.Link().Second
	if second.IsValid() && now.Prefix.IsValid() && now.Prefix.Contains(second) && second != now.Prefix.Addr() && !a.has(second) {
		now.Second = second
	}
	return now
}
