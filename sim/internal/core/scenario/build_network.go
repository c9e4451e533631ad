package scenario

import (
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func (b *builder) network() error {
	t := &b.file.Network
	if (t.DHCP == "late") != (t.Late != nil) {
		return b.src.at(t.at("late"), "dhcp and late do not fit", `late together with dhcp = "late", and only then`)
	}
	if err := b.ownAddress(b.networkOf("offer").at("offer"), t.Offer); err != nil {
		return err
	}
	n := plan.Network{DHCP: t.DHCP, Late: or(t.Late, vtime.Tick(0)), Offer: t.Offer, Lease: t.Lease, Link: t.link()}
	if n.Gateway = or(t.Gateway, t.Offer.Masked().Addr().Next()); t.Gateway == nil && (n.Gateway == t.Offer.Addr() || !t.Offer.Contains(n.Gateway)) {
		n.Gateway = netip.Addr{}
	}
	if err := b.gateway(t.at("gateway"), t.Offer, n.Gateway); err != nil {
		return err
	}
	for _, step := range []func(*plan.Network) error{b.segment, b.segment6, b.switches, b.places, b.lists} {
		if err := step(&n); err != nil {
			return err
		}
	}
	b.plan.Network = n
	return b.peerList()
}

// segment is the card's segment as it truly is.
func (b *builder) segment(n *plan.Network) error {
	t, s := &b.file.Network, &b.plan.Card.Settings
	n.Subnet, n.Router = n.Offer.Masked(), n.Gateway
	if s.Mode == snap.AddressFixed {
		n.Subnet = s.Fixed.Masked()
		if s.Gateway.IsValid() {
			n.Router = s.Gateway
		}
	}
	n.Subnet = or(t.Subnet, n.Subnet).Masked()
	if n.Router = or(t.Router, n.Router); t.Router == nil && (!n.Subnet.Contains(n.Router) || s.Mode == snap.AddressFixed && n.Router == s.Fixed.Addr()) {
		n.Router = netip.Addr{}
	}
	if n.Router.IsValid() && !n.Subnet.Contains(n.Router) {
		return b.src.at(t.at("router"), fmt.Sprintf("the router %s is not in %s", n.Router, n.Subnet), "an address of the card's segment")
	}
	return nil
}

func (b *builder) segment6(n *plan.Network) error {
	t := &b.file.Network
	switch {
	case t.Prefix6 == nil && t.Router6 != nil:
		return b.src.at(t.at("router6"), "router6 stands without prefix6", "prefix6")
	case t.Prefix6 == nil:
		return nil
	case !t.Prefix6.Addr().Is6() || t.Prefix6.Bits() != 64:
		return b.src.at(t.at("prefix6"), t.Prefix6.String()+" makes no addresses", `an IPv6 network of 64 bits such as "2001:db8:1::/64"`)
	}
	n.Prefix6 = t.Prefix6.Masked()
	if n.Router6 = or(t.Router6, n.Prefix6.Addr().Next()); !n.Prefix6.Contains(n.Router6) && !n.Router6.IsLinkLocalUnicast() {
		return b.src.at(t.at("router6"), fmt.Sprintf("the router %s is not in %s", n.Router6, n.Prefix6), "an address of prefix6")
	}
	return nil
}

func (b *builder) switches(*plan.Network) error {
	names := map[string]int{}
	b.switchAt = names
	for i := range b.file.Switches {
		t := &b.file.Switches[i]
		if err := b.name(t.at("name"), t.Name); err != nil {
			return err
		}
		w := plan.Switch{Name: t.Name, Group: -1, Uplink: plan.Core, Boot: t.Boots}
		if t.Group != nil {
			g, ok := b.groups[*t.Group]
			if !ok {
				return b.missing(t.at("group"), "group", *t.Group, b.groupNames())
			}
			w.Group = g
		}
		var err error
		if w.Uplink, err = b.place(&t.table, "uplink", t.Uplink); err != nil {
			return err
		}
		if err := b.unique(names, t.at("name"), "the switches", t.Name); err != nil {
			return err
		}
		b.plan.Switches = append(b.plan.Switches, w)
	}
	return nil
}

// place is the switch that a key names, the core without it.
func (b *builder) place(t *table, key string, name *string) (int, error) {
	if name == nil {
		return plan.Core, nil
	}
	i, ok := b.switchAt[*name]
	if !ok {
		return 0, b.missing(t.at(key), "switch", *name, b.switchNames())
	}
	return i, nil
}

func (b *builder) places(n *plan.Network) (err error) {
	t := &b.file.Network
	for _, x := range []struct {
		key  string
		name *string
		to   *int
	}{{"switch", t.Switch, &n.Switch}, {"dhcp_at", t.At, &n.ServerAt}, {"router_at", t.RouterAt, &n.RouterAt}} {
		if *x.to, err = b.place(b.networkOf(x.key), x.key, x.name); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) lists(n *plan.Network) error {
	t := &b.file.Network
	for _, x := range []struct {
		key  string
		list []string
		to   *[]netip.Addr
	}{{"dns", t.DNS, &n.DNS}, {"taken", t.Taken, &n.Taken}} {
		for _, text := range x.list {
			addr, err := netip.ParseAddr(text)
			if err != nil {
				return b.src.at(t.at(x.key), fmt.Sprintf("%q is not an address", short(text)), `addresses such as "192.0.2.53"`)
			}
			*x.to = append(*x.to, addr)
		}
	}
	return nil
}

func (b *builder) peerList() error {
	names := map[string]int{}
	b.peers = names
	for i := range b.file.Peers {
		t := &b.file.Peers[i]
		if err := b.newName(names, t.at("name"), "the peers", t.Name); err != nil {
			return err
		}
		p, err := b.peer(t)
		if err != nil {
			return err
		}
		b.plan.Peers = append(b.plan.Peers, p)
	}
	return nil
}

func (b *builder) peer(t *peerTable) (p plan.Peer, err error) {
	n := &b.plan.Network
	p = plan.Peer{Name: t.Name, Address: t.Address, Host: -1, Local: n.Subnet.Contains(t.Address.Addr()) || n.Prefix6.IsValid() && n.Prefix6.Contains(t.Address.Addr())}
	if err := b.hostAddress(t.at("address"), t.Address); err != nil {
		return p, err
	}
	if t.Segment != nil {
		p.Local = *t.Segment == "card"
	}
	switch {
	case t.Gateway == nil:
	case *t.Gateway == "none":
		p.NoGateway = true
	default:
		if p.Gateway, err = netip.ParseAddr(*t.Gateway); err != nil {
			return p, b.src.at(t.at("gateway"), fmt.Sprintf("%q is not an address", short(*t.Gateway)), `an address such as "192.0.2.1", or "none"`)
		}
	}
	if t.Host != nil {
		i, ok := b.hosts[*t.Host]
		if !ok {
			return p, b.missing(t.at("host"), "host", *t.Host, b.hostNames())
		}
		p.Host = i
	}
	p.Switch, err = b.place(&t.table, "switch", t.Switch)
	return p, err
}

func (b *builder) peerNames() []string {
	var names []string
	for i := range b.plan.Peers {
		names = append(names, b.plan.Peers[i].Name)
	}
	return names
}

func (b *builder) switchNames() []string {
	var names []string
	for i := range b.plan.Switches {
		names = append(names, b.plan.Switches[i].Name)
	}
	return names
}

// networkAction is what an entry does to the network.
func (b *builder) networkAction(x *netEntry) (plan.Action, error) {
	link := x.link()
	if x.Offer == nil && x.Claim == nil && x.Release == nil && x.Router == nil && x.Gateway == nil && link == nil {
		return plan.Action{}, b.src.at(x.node.off, "the network does not change", "offer, claim, release, router, gateway, loss_pct, delay, jitter, burst_loss_pct, port_mode or port_vlan")
	}
	if x.Offer != nil {
		if err := b.ownAddress(x.at("offer"), *x.Offer); err != nil {
			return plan.Action{}, err
		}
	}
	return plan.Action{Kind: plan.ActNetwork, Net: &plan.NetChange{
		Offer: or(x.Offer, netip.Prefix{}), Claim: or(x.Claim, netip.Addr{}), Release: or(x.Release, netip.Addr{}), Link: link, Router: or(x.Router, ""), Gateway: or(x.Gateway, netip.Addr{}),
	}}, nil
}

// link is the card's link.
func (t *networkTable) link() plan.Link {
	return plan.Link{
		Carriage: snap.Carriage{
			LossPct: t.LossPct, Delay: t.Delay, Jitter: t.Jitter,
			BurstLossPct: t.BurstLossPct, BurstOver: int(t.BurstPackets), BurstWithin: t.BurstWindow,
		},
		MismatchPct: t.MismatchPct, Mode: snap.LinkMode(t.PortMode), VLAN: int(t.PortVLAN),
	}
}

// link is what an entry does to it, nil for nothing.
func (x *netEntry) link() *plan.LinkChange {
	c := plan.LinkChange{LossPct: x.LossPct, Delay: x.Delay, Jitter: x.Jitter, BurstLossPct: x.Burst}
	if x.Port != nil {
		mode := snap.LinkMode(*x.Port)
		c.Mode = &mode
	}
	if x.VLAN != nil {
		vlan := int(*x.VLAN)
		c.VLAN = &vlan
	}
	if c == (plan.LinkChange{}) {
		return nil
	}
	return &c
}
