package path

import (
	"net/netip"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// FuzzPath: whatever addresses, masks and switches a scenario has, there is an
// answer; an open path needs a card with a link, an address and no dead switch of
// its own, and an address that is a peer's has that peer's answer.
func FuzzPath(f *testing.F) {
	f.Add([]byte{192, 0, 2, 10, 24, 192, 0, 2, 1, 192, 0, 2, 30, 24, 0xff, 0, 0, 0, 1})
	f.Add([]byte{192, 0, 2, 10, 0, 192, 0, 2, 1, 203, 0, 113, 30, 32, 0x03, 1, 2, 3, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) < 19 {
			return
		}
		p, n := fuzzedSite(b)
		s := State{Running: b[14]&1 == 1, Link: b[14]&2 == 2, NoRoute: b[14]&4 == 0, Dead: uint64(b[15]), Down: uint64(b[14] >> 7)}
		s.Address.Prefix = netip.PrefixFrom(netip.AddrFrom4([4]byte(b[:4])), int(b[4]%34)-1)
		if b[14]&8 == 8 {
			s.Address.Gateway = n.Router
		}
		for i := range p.Peers {
			fault := ToPeer(p, n, s, i)
			if To(p, n, s, p.Peers[i].Address.Addr()) != ToPeer(p, n, s, Peer(p, p.Peers[i].Address.Addr())) {
				t.Error("an address has another answer than the peer that has it")
			}
			ownDead := n.Switch != plan.Core && s.Dead>>n.Switch&1 == 1
			if fault == snap.PathOpen && (!s.Running || !s.Link || ownDead || s.Down>>i&1 == 1 || p.Peers[i].Address.Addr().Is4() && !s.Address.Prefix.IsValid()) {
				t.Errorf("open: %+v", s)
			}
			if fault.Tells() == "" || fault.String() == "unknown" {
				t.Errorf("nothing to say of %d", fault)
			}
		}
		To(p, n, s, netip.AddrFrom4([4]byte(b[len(b)-4:])))
	})
}

// fuzzedSite has a tree of four switches, and peers on each of them.
func fuzzedSite(b []byte) (*plan.Plan, *plan.Network) {
	p := &plan.Plan{Switches: make([]plan.Switch, 4)}
	at := func(x byte, below int) int { return int(x)%(below+1) - 1 } // plan.Core is -1
	for i := range p.Switches {
		p.Switches[i].Uplink = at(b[16]>>(2*i), i)
	}
	router := netip.AddrFrom4([4]byte(b[5:9]))
	n := &plan.Network{
		Subnet: netip.PrefixFrom(router, int(b[4]%33)).Masked(), Router: router, Prefix6: netip.MustParsePrefix("2001:db8::/64"),
		Switch: at(b[17], 4), RouterAt: at(b[17]>>4, 4),
	}
	for i := range b[18] % 4 {
		a := netip.AddrFrom4([4]byte(b[9:13])).Next()
		x := plan.Peer{Address: netip.PrefixFrom(a, int(b[13]%33)), Switch: at(b[18]>>4, 4), NoGateway: b[14]&16 == 16, Host: -1}
		x.Local = n.Subnet.Contains(a) && i != 2
		if i == 1 {
			x.Address = netip.PrefixFrom(netip.MustParseAddr("2001:db8::7"), 64)
		}
		p.Peers = append(p.Peers, x)
	}
	return p, n
}
