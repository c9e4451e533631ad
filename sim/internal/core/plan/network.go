package plan

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
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
	Link     Link         // between the card and its switch
	Taken    []netip.Addr // that other machines have
}

// Link is the card's link, but for what the card itself is set to.
type Link struct {
	snap.Carriage
	MismatchPct float64       // BurstLossPct while the ends differ in duplex, if that is more
	Mode        snap.LinkMode // of the switch's port
	VLAN        int           // that it carries with a tag; 0: it carries frames without one
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
	Link           *LinkChange  // nil: it stays as it is
	Router         string       // "present" or "absent"
	Gateway        netip.Addr   // that the address server tells from now on
}

// Carries is how it carries while its ends differ in duplex or do not.
func (l *Link) Carries(differs bool) snap.Carriage {
	c := l.Carriage
	if differs {
		c.BurstLossPct = max(c.BurstLossPct, l.MismatchPct)
	}
	return c
}

// Plain says whether it is one that everybody takes for granted.
func (l *Link) Plain() bool {
	_, _, fixed := l.Mode.Fixed()
	return !fixed && l.VLAN == 0 && l.Perfect()
}

// LinkChange is what becomes of the card's link; what is nil stays.
type LinkChange struct {
	LossPct, BurstLossPct *float64
	Delay, Jitter         *vtime.Tick
	Mode                  *snap.LinkMode // of the switch's port
	VLAN                  *int           // likewise
}
