package serve

import (
	"net/netip"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// TestAccessList: rows of network, service and client; a client of whom nobody said
// which peer it is comes from the card's own network.
func TestAccessList(t *testing.T) {
	p := &plan.Plan{
		Network: plan.Network{Subnet: netip.MustParsePrefix("192.0.2.0/24"), Router: netip.MustParseAddr("192.0.2.1"), Switch: plan.Core, RouterAt: plan.Core},
		Peers: []plan.Peer{
			{Name: "manager", Address: netip.MustParsePrefix("198.51.100.40/24"), Switch: plan.Core, Host: -1},
			{Name: "six", Address: netip.MustParsePrefix("2001:db8:9::1/64"), Switch: plan.Core, Host: -1},
		},
	}
	p.Network.Prefix6, p.Network.Router6 = netip.MustParsePrefix("2001:db8:1::/64"), netip.MustParseAddr("2001:db8:1::1")
	site := &snap.Site{}
	site.Card.State = snap.CardRunning
	site.Card.Address = snap.Address{
		Prefix: netip.MustParsePrefix("192.0.2.10/24"), Gateway: p.Network.Router,
		V6: netip.MustParsePrefix("2001:db8:1::a/64"), V6Gateway: p.Network.Router6,
	}
	g := newGate(&Config{Plan: p, Peers: map[string]netip.Addr{
		"manager": netip.MustParseAddr("127.0.0.2"), "six": netip.MustParseAddr("127.0.0.3"),
	}}, p, func() *snap.Site { return site })
	for from, want := range map[string]string{"127.0.0.1": "192.0.2.254", "127.0.0.2": "198.51.100.40", "127.0.0.3": "2001:db8:9::1"} {
		if got := g.seen(netip.MustParseAddr(from)); got != netip.MustParseAddr(want) {
			t.Errorf("%s is seen as %s, want %s", from, got, want)
		}
	}
	for _, row := range []struct {
		allow              []snap.Allow
		service            string
		near, manager, six bool
	}{
		{nil, "snmp", true, true, true},
		{[]snap.Allow{{Name: "a", Service: "ssh", Network: netip.MustParsePrefix("198.51.100.0/24")}}, "snmp", true, true, true},
		{[]snap.Allow{{Name: "a", Service: "ssh", Network: netip.MustParsePrefix("198.51.100.0/24")}}, "ssh", false, true, false},
		{[]snap.Allow{{Name: "a", Service: "all", Network: netip.MustParsePrefix("192.0.2.0/24")}}, "snmp", true, false, false},
		{[]snap.Allow{{Name: "a", Service: "all", Network: netip.MustParsePrefix("192.0.2.0/24")}, {Name: "b", Service: "snmp", Network: netip.MustParsePrefix("2001:db8:9::/48")}}, "snmp", true, false, true},
	} {
		site.Card.Settings = snap.Settings{}
		site.Card.Settings.ChangeLinks(func(l *snap.LinkSettings) error { l.Allow = row.allow; return nil })
		for from, want := range map[string]bool{"127.0.0.1": row.near, "127.0.0.2": row.manager, "127.0.0.3": row.six} {
			if got := g.admits(row.service, netip.MustParseAddr(from)); got != want {
				t.Errorf("%+v: %s from %s: %v", row.allow, row.service, from, got)
			}
		}
	}
}
