package sim_test

import (
	"net/netip"
	"strings"
	"testing"

	"ridethrough/sim"
)

// pathSite has a manager behind the router; GATEWAY is the card's.
const pathSite = `
title = "paths"
seed = 31
run_for = "24h"
[card]
read_community = "look"
address = "192.0.2.10/24"
GATEWAY
[network]
subnet = "192.0.2.0/24"
router = "192.0.2.1"
switch = "access"
[[group]]
name = "racks"
[[group]]
name = "wall"
fed_by = "mains"
[[switch]]
name = "access"
group = "wall"
[[peer]]
name = "manager"
address = "198.51.100.40/24"
[[host]]
name = "db"
group = "racks"
draw_w = 300
`

// from asks the card from a loopback address, and says whether it answers; want is what
// it should do.
func (c *card) from(local string, want bool) bool {
	c.t.Helper()
	return asked(c.t, c.ready.Endpoints.SNMP, local, want)
}

// greets says whether the card's SSH server greets a client from a loopback address.
func (c *card) greets(local string) bool {
	c.t.Helper()
	return greetsAt(c.t, c.ready.Endpoints.SSH, local)
}

// TestPathsOfRealClients: a client that plays a peer gets through only if packets
// pass between that peer and the card; any other is in the card's own network. A
// switch that dies takes both away.
func TestPathsOfRealClients(t *testing.T) {
	for gateway, through := range map[string]bool{`gateway = "192.0.2.1"`: true, "": false} {
		c := serveText(t, strings.Replace(pathSite, "GATEWAY", gateway, 1), sim.ServeOptions{Peers: map[string]netip.Addr{"manager": netip.MustParseAddr("127.0.0.2")}})
		if !c.from("127.0.0.1", true) || !c.greets("127.0.0.1") {
			t.Errorf("%s: no way from the card's own network", gateway)
		}
		if c.from("127.0.0.2", through) != through || c.greets("127.0.0.2") != through {
			t.Errorf("%s: from behind the router want %v", gateway, through)
		}
		c.send(`source = "lost"`)
		if c.from("127.0.0.1", false) || c.greets("127.0.0.1") {
			t.Errorf("%s: a way through a switch without power", gateway)
		}
		c.end()
	}
}
