package expect

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

func networkVariables() []Variable {
	return []Variable{
		yesNo("card.link", "the card's port has a link",
			func(s *snap.Site) bool { return !s.Card.LinkDown }),
		count("card.link_lost", "packets that were lost on the card's link, served ones too",
			func(s *snap.Site) float64 { return float64(s.Net.Lost) }),
		count("card.link_mbit", "speed of the card's port in Mbit/s; 0: the two ends are set to different ones",
			func(s *snap.Site) float64 { return float64(s.Card.PortNow().Mbit) }),
		yesNo("card.link_half", "the card's end of the link works in half duplex",
			func(s *snap.Site) bool { return s.Card.PortNow().Half }),
		yesNo("card.link_mismatch", "the two ends of the card's link differ in duplex",
			func(s *snap.Site) bool { return s.Net.Duplex }),
		yesNo("card.link_other_vlan", "the switch's port carries another VLAN than the card's",
			func(s *snap.Site) bool { return s.Net.VLAN }),
		count("card.link_in_errors", "frames that arrived damaged at the card since its agent started (ifInErrors)",
			func(s *snap.Site) float64 { return float64(s.Card.PortNow().InErrors) }),
		count("card.link_late_collisions", "late collisions that the card's port has seen since then (dot3StatsLateCollisions)",
			func(s *snap.Site) float64 { return float64(s.Card.PortNow().LateCollisions) }),
		{Name: "card.gateway", Kind: Address, Doc: "the gateway that the card uses, \"\" for none",
			addr: func(s *snap.Site) netip.Addr { return s.Card.Address.Gateway }},
		number("card.lease_left_s", "seconds until the card's lease ends, -1 without one",
			func(s *snap.Site) float64 { return leaseLeft(s) }),
		count("card.lease_overdue", "requests for more of the lease that nobody answered",
			func(s *snap.Site) float64 { return float64(s.Card.Address.Lease.Overdue) }),
		{Name: "card.address6", Kind: Address, Doc: "the card's IPv6 address, \"\" while it has none",
			addr: func(s *snap.Site) netip.Addr { return s.Card.Address.V6.Addr() }},
		word("card.address6_state", "how the card stands with its IPv6 address", addressWords6,
			func(s *snap.Site) uint8 { return indexOf(addressWords6, s.Card.Address.V6State) }),
	}
}

func leaseLeft(s *snap.Site) float64 {
	if until := s.Card.Address.Lease.Until; until != 0 {
		return (until - s.Tick).Seconds()
	}
	return -1
}

func peerVariables(name string, i int) []Variable {
	p := "peers." + name + "."
	return []Variable{
		yesNo(p+"reached", "packets pass between it and the card, both ways",
			func(s *snap.Site) bool { return s.Net.Peers[i].Fault == snap.PathOpen }),
		word(p+"fault", "why they do not, or \"open\"", wordsFrom(snap.PathOpen, snap.PathFaults-1, snap.PathFault.String),
			func(s *snap.Site) uint8 { return uint8(s.Net.Peers[i].Fault) }),
		count(p+"heard", "notifications that arrived there, of a peer with the address of a receiver",
			func(s *snap.Site) float64 { return float64(s.Net.Peers[i].Heard) }),
	}
}

func switchVariables(name string, i int) []Variable {
	return []Variable{
		word("switches."+name+".state", "where the network switch is", wordsFrom(snap.SwitchDead, snap.SwitchForwards, snap.SwitchState.String),
			func(s *snap.Site) uint8 { return uint8(s.Net.Switches[i]) }),
	}
}
