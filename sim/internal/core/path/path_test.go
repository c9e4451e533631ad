package path

import (
	"net/netip"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

func pre(s string) netip.Prefix { return netip.MustParsePrefix(s) }
func adr(s string) netip.Addr   { return netip.MustParseAddr(s) }

// site has the card on a segment 192.0.2.0/24 with router .1, behind a switch.
func site() (*plan.Plan, *plan.Network) {
	p := &plan.Plan{
		Switches: []plan.Switch{
			{Name: "trunk", Uplink: plan.Core}, {Name: "access", Uplink: 0}, {Name: "other", Uplink: 0}, {Name: "lone", Uplink: plan.Core},
		},
		Peers: []plan.Peer{
			{Name: "near", Address: pre("192.0.2.30/24"), Local: true, Switch: 1},
			{Name: "side", Address: pre("192.0.2.31/24"), Local: true, Switch: 2},
			{Name: "far", Address: pre("198.51.100.20/24"), Switch: plan.Core},
			{Name: "hung", Address: pre("198.51.100.21/24"), Switch: 3},
			{Name: "astray", Address: pre("192.0.2.200/25"), Local: true, Gateway: adr("192.0.2.254"), Switch: plan.Core},
			{Name: "closed", Address: pre("198.51.100.22/24"), NoGateway: true, Switch: plan.Core},
			{Name: "narrow", Address: pre("192.0.2.201/25"), Local: true, Switch: plan.Core},
			{Name: "six", Address: pre("2001:db8:9::1/64"), Switch: plan.Core},
		},
	}
	n := &plan.Network{
		Subnet: pre("192.0.2.0/24"), Router: adr("192.0.2.1"), Prefix6: pre("2001:db8:1::/64"), Router6: adr("2001:db8:1::1"),
		Switch: 1, ServerAt: plan.Core, RouterAt: 0,
	}
	return p, n
}

// TestFaults: who reaches a card with that address, and why not (RFC 1122 section
// 3.3.1: a host sends to a neighbour by its own mask, to a gateway else).
func TestFaults(t *testing.T) {
	open, wide, noGate, silent, dead := snap.PathOpen, snap.PathMaskWide, snap.PathNoGateway, snap.PathGatewaySilent, snap.PathSwitchDead
	stray, noBack := snap.PathPeerStray, snap.PathNoWayBack
	for _, c := range []struct {
		name          string
		own, gateway  string
		dead          uint64
		noRouter      bool
		near, side    snap.PathFault
		far, hung     snap.PathFault
		astray, close snap.PathFault
		narrow        snap.PathFault
	}{
		{"right", "192.0.2.10/24", "192.0.2.1", 0, false, open, open, open, open, stray, stray, open},
		{"no gateway", "192.0.2.10/24", "", 0, false, open, open, noGate, noGate, stray, noGate, open},
		{"wrong gateway", "192.0.2.10/24", "192.0.2.2", 0, false, open, open, silent, silent, stray, silent, open},
		{"router gone", "192.0.2.10/24", "192.0.2.1", 0, true, open, open, silent, silent, stray, silent, silent},
		{"mask too wide", "192.0.2.10/1", "192.0.2.1", 0, false, open, open, wide, wide, stray, wide, open},
		{"mask too narrow, neighbours by way of the router", "192.0.2.10/29", "", 0, false, noGate, noGate, noGate, noGate, noGate, noGate, noGate},
		{"another network", "203.0.113.10/24", "203.0.113.1", 0, false, silent, silent, silent, silent, silent, silent, silent},
		{"another network that fits the router", "192.0.3.10/23", "", 0, false, noBack, noBack, noGate, noGate, stray, noGate, noBack},
		{"access dead", "192.0.2.10/24", "192.0.2.1", 1 << 1, false, dead, dead, dead, dead, dead, dead, dead},
		{"trunk dead", "192.0.2.10/24", "192.0.2.1", 1 << 0, false, open, dead, dead, dead, dead, dead, dead},
		{"other dead", "192.0.2.10/24", "192.0.2.1", 1 << 2, false, open, dead, open, open, stray, stray, open},
		{"lone dead", "192.0.2.10/24", "192.0.2.1", 1 << 3, false, open, open, open, dead, stray, stray, open},
	} {
		p, n := site()
		s := State{Running: true, Link: true, Dead: c.dead, NoRoute: c.noRouter}
		s.Address.Prefix = pre(c.own)
		if c.gateway != "" {
			s.Address.Gateway = adr(c.gateway)
		}
		for i, want := range []snap.PathFault{c.near, c.side, c.far, c.hung, c.astray, c.close, c.narrow} {
			if got := ToPeer(p, n, s, i); got != want {
				t.Errorf("%s: %s: %v, want %v", c.name, p.Peers[i].Name, got, want)
			}
		}
	}
}

// TestStates: what the card itself lacks comes first; a machine that is not there
// comes last.
func TestStates(t *testing.T) {
	p, n := site()
	s := State{Down: 1}
	for _, c := range []struct {
		change func()
		want   snap.PathFault
	}{
		{func() {}, snap.PathCardDown},
		{func() { s.Running = true }, snap.PathNoLink},
		{func() { s.Link = true }, snap.PathNoAddress},
		{func() { s.Address.Prefix = pre("192.0.2.10/24") }, snap.PathPeerDown},
		{func() { s.Down = 0 }, snap.PathOpen},
	} {
		if c.change(); ToPeer(p, n, s, 0) != c.want {
			t.Errorf("%v, want %v", ToPeer(p, n, s, 0), c.want)
		}
	}
	if got := ToPeer(p, n, s, 7); got != snap.PathNoAddress {
		t.Errorf("over IPv6 without an address: %v", got)
	}
	s.Address.V6, s.Address.V6Gateway = pre("2001:db8:1::a/64"), adr("2001:db8:1::1")
	if got := ToPeer(p, n, s, 7); got != snap.PathOpen {
		t.Errorf("over IPv6: %v", got)
	}
}

// TestStrangers: an address that no peer has.
func TestStrangers(t *testing.T) {
	p, n := site()
	s := State{Running: true, Link: true}
	s.Address.Prefix = pre("192.0.2.10/24")
	for addr, want := range map[string]snap.PathFault{
		"192.0.2.99": snap.PathOpen, "203.0.113.5": snap.PathNoGateway, "2001:db8:1::5": snap.PathNoAddress, "192.0.2.30": snap.PathOpen,
	} {
		if got := To(p, n, s, adr(addr)); got != want {
			t.Errorf("%s: %v, want %v", addr, got, want)
		}
	}
}
