package path

import (
	"net/netip"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// State is what changes of a site's network, and of the card's part in it.
type State struct {
	Running bool // the card's firmware
	Link    bool // the card's port has one
	Address snap.Address
	Dead    uint64 // switches that forward nothing, a bit each
	Down    uint64 // peers that are not there, a bit each
	NoRoute bool   // the router is not there
	VLAN    bool   // the card's port and the one at the other end carry different ones
}

// Of is the state that a site shows.
func Of(s *snap.Site) State {
	return State{
		Running: s.Card.State == snap.CardRunning, Link: !s.Card.LinkDown, Address: s.Card.Address,
		Dead: s.Net.Dead, Down: s.Net.Down, NoRoute: s.Net.NoRouter, VLAN: s.Net.VLAN,
	}
}

// Peer is the index of the peer with that address, -1 if there is none.
func Peer(p *plan.Plan, addr netip.Addr) int {
	for i := range p.Peers {
		if p.Peers[i].Address.Addr() == addr {
			return i
		}
	}
	return -1
}

// To says whether packets pass between the card and addr, which need not be a
// peer: then it is taken for a machine with the right mask and gateway, beside the
// card or behind the router as its address says.
func To(p *plan.Plan, n *plan.Network, s State, addr netip.Addr) snap.PathFault {
	if i := Peer(p, addr); i >= 0 {
		return ToPeer(p, n, s, i)
	}
	return between(p, n, s, stranger(n, addr), plan.Core)
}

// Neighbour is the address of a machine of which nobody said where it is: one in the
// card's own network, at its last address but the card and its gateway; of a network
// without room for that, or of IPv6 alone, the card's own. It is invalid while the card
// has none.
func Neighbour(a *snap.Address) netip.Addr {
	own := a.Prefix
	if !own.IsValid() {
		own = a.V6
	}
	if !own.Addr().Is4() || own.Bits() > 29 {
		return own.Addr()
	}
	b := own.Masked().Addr().As4()
	for i := range 32 - own.Bits() {
		b[3-i/8] |= 1 << (i % 8)
	}
	addr := netip.AddrFrom4(b).Prev()
	for addr == own.Addr() || addr == a.Gateway {
		addr = addr.Prev()
	}
	return addr
}

// stranger is a machine of which only the address is known.
func stranger(n *plan.Network, addr netip.Addr) *plan.Peer {
	subnet := n.Subnet
	if !addr.Is4() {
		subnet = n.Prefix6
	}
	x := &plan.Peer{Address: netip.PrefixFrom(addr, addr.BitLen()), Switch: plan.Core}
	if subnet.IsValid() && subnet.Contains(addr) {
		x.Address, x.Local = netip.PrefixFrom(addr, subnet.Bits()), true
	}
	return x
}

// ToPeer says whether packets pass between the card and peer i.
func ToPeer(p *plan.Plan, n *plan.Network, s State, i int) snap.PathFault {
	x := &p.Peers[i]
	fault := between(p, n, s, x, x.Switch)
	if fault == snap.PathOpen && s.Down>>i&1 == 1 {
		return snap.PathPeerDown
	}
	return fault
}

// between goes the way there and back again.
func between(p *plan.Plan, n *plan.Network, s State, x *plan.Peer, at int) snap.PathFault {
	own, gateway, router := s.Address.Prefix, s.Address.Gateway, n.Router
	if !x.Address.Addr().Is4() {
		own, gateway, router = s.Address.V6, s.Address.V6Gateway, n.Router6
	}
	switch {
	case !s.Running:
		return snap.PathCardDown
	case !s.Link:
		return snap.PathNoLink
	case s.VLAN:
		return snap.PathOtherVLAN
	case !own.IsValid():
		return snap.PathNoAddress
	}
	if fault := there(own, gateway, router, s, x); fault != snap.PathOpen {
		return fault
	}
	through := at
	if !x.Local && at == plan.Core {
		through = n.RouterAt
	}
	if !Alive(p, s.Dead, n.Switch, through) || !x.Local && !Alive(p, s.Dead, n.RouterAt, at) {
		return snap.PathSwitchDead
	}
	return back(own, router, n, s, x)
}

// there is the way from the card to the peer.
func there(own netip.Prefix, gateway, router netip.Addr, s State, x *plan.Peer) snap.PathFault {
	switch to := x.Address.Addr(); {
	case own.Contains(to) && !x.Local:
		return snap.PathMaskWide
	case own.Contains(to):
		return snap.PathOpen
	case !gateway.IsValid():
		return snap.PathNoGateway
	case gateway != router || s.NoRoute:
		return snap.PathGatewaySilent
	}
	return snap.PathOpen
}

// back is the way from the peer to the card.
func back(own netip.Prefix, router netip.Addr, n *plan.Network, s State, x *plan.Peer) snap.PathFault {
	segment := n.Subnet
	if !own.Addr().Is4() {
		segment = n.Prefix6
	}
	if x.Local && x.Address.Contains(own.Addr()) {
		return snap.PathOpen
	}
	// By way of a router, which knows the card's segment by its own address.
	switch {
	case x.NoGateway, x.Local && x.Gateway.IsValid() && x.Gateway != router:
		return snap.PathPeerStray
	case !segment.IsValid() || !segment.Contains(own.Addr()):
		return snap.PathNoWayBack
	case s.NoRoute || !router.IsValid():
		return snap.PathGatewaySilent
	}
	return snap.PathOpen
}

// Alive says whether every switch between two of them forwards, both included.
// The core always does.
func Alive(p *plan.Plan, dead uint64, a, b int) bool {
	for {
		da, db := depth(p, a), depth(p, b)
		switch {
		case a != plan.Core && dead>>a&1 == 1, b != plan.Core && dead>>b&1 == 1:
			return false
		case a == b:
			return true
		case da >= db:
			a = p.Switches[a].Uplink
		default:
			b = p.Switches[b].Uplink
		}
	}
}

func depth(p *plan.Plan, at int) (n int) {
	for ; at != plan.Core; at = p.Switches[at].Uplink {
		n++
	}
	return n
}
