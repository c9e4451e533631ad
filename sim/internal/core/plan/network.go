package plan

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// Core stands for the root of the tree of switches, which is always there.
const Core = -1

// Network is the network on which the card hangs.
type Network struct {
	DHCP    string       // "present", "absent" or "late"
	Late    vtime.Tick   // after tick 0, when "late"
	Offer   netip.Prefix // of the address server, unless it keeps another for the card
	Gateway netip.Addr
	Lease   vtime.Tick // how long a lease lasts
	DNS     []netip.Addr
	Real    bool // the card asks real address servers; the one that is modelled is not there

	Subnet   netip.Prefix // of the card's segment, as it truly is
	Router   netip.Addr   // in it; may be invalid
	Prefix6  netip.Prefix // that the router advertises; may be invalid
	Router6  netip.Addr
	Switch   int          // that the card hangs on, or Core
	ServerAt int          // switch of the address server, or Core
	RouterAt int          // switch of the router, or Core
	LossPct  float64      // of what goes over the card's link, either way
	Taken    []netip.Addr // that other machines have
}

// Switch is a network switch.
type Switch struct {
	Name   string
	Group  int        // outlet group that feeds it; -1: it never loses its power
	Uplink int        // the next switch towards the core, or Core
	Boot   vtime.Tick // from power to forwarding
}

// Peer is a machine that has to do with the card.
type Peer struct {
	Name      string
	Address   netip.Prefix
	Gateway   netip.Addr // invalid: the right one
	NoGateway bool
	Local     bool // on the card's segment
	Switch    int  // that it hangs on, or Core
	Host      int  // host that it is; -1: a machine that always runs
}

// NetChange is what a timeline entry does to the network; what is invalid or empty
// stays.
type NetChange struct {
	Offer          netip.Prefix // of the address server, from now on
	Claim, Release netip.Addr   // an address that another machine takes, or gives up
	Loss           *float64     // on the card's link, in percent
	Router         string       // "present" or "absent"
	Gateway        netip.Addr   // that the address server tells from now on
}
