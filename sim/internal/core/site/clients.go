package site

import (
	"net/netip"

	"ridethrough/sim/internal/core/path"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// admits says whether the card lets in who speaks to it over SNMP as c says, from the
// machine at: by its access list, its versions and its communities. Whom it turns away
// by address, community or user its journal tells.
func (s *Site) admits(now vtime.Tick, at int, c *plan.Client, writes bool) bool {
	set := s.card.InForce()
	if len(set.Link().Allow) > 0 && !s.onList(now, "snmp", s.addressAt(at)) {
		return false
	}
	if !set.Manager().Speaks(c.Version) {
		return false
	}
	if c.Version == "v3" {
		return s.authentic(now, at, c, writes)
	}
	if s.knows(set, c, writes) {
		return true
	}
	s.card.AuthFailed(now, s.addressAt(at).String())
	return false
}

// onList says whether the card's access list lets from use a service.
func (s *Site) onList(now vtime.Tick, service string, from netip.Addr) bool {
	in, acted := s.card.Quirks().LetsIn(s.card.InForce(), service, from)
	if acted {
		s.card.Acted(now, snap.QuirkListOfV4)
	}
	if !in {
		s.card.TurnAway(now, service, from.String(), 1)
	}
	return in
}

// knows says whether the card takes a community of c.
func (s *Site) knows(set *snap.Settings, c *plan.Client, writes bool) bool {
	began := &s.self.Card.Settings
	says, wants := or(c.Read, began.ReadCommunity), set.ReadCommunity
	if writes {
		says, wants = or(c.Write, began.WriteCommunity), set.WriteCommunity
	}
	return says.Reveal() != "" && says.Reveal() == wants.Reveal()
}

func or(says *snap.Secret, began snap.Secret) snap.Secret {
	if says != nil {
		return *says
	}
	return began
}

// addressAt is the address of the machine at; -1 is one in the card's own network.
func (s *Site) addressAt(at int) netip.Addr {
	if at >= 0 {
		return s.plan.Peers[at].Address.Addr()
	}
	address, _ := s.card.Address()
	return path.Neighbour(&address)
}

// hostOf is the address of a peer that may have a port.
func hostOf(peer string) string {
	if a, err := netip.ParseAddrPort(peer); err == nil {
		return a.Addr().String()
	}
	return peer
}
