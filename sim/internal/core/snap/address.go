package snap

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// Address is the card's network address at present.
type Address struct {
	// State is "searching" (asking for a lease, nothing yet), "leased", "last-lease"
	// (one from before a restart that nobody has confirmed), "link-local", "fixed",
	// "duplicate" (another machine has it) or "no-link" (the port has no link).
	State   string
	Prefix  netip.Prefix
	Gateway netip.Addr
	DNS     [2]netip.Addr
	Lease   Lease // of a leased one

	V6State   string // "off", "searching", "auto", "fixed" or "duplicate"
	V6        netip.Prefix
	V6Gateway netip.Addr
}

// Lease says how long an address may be used: from when on the card asks for more
// of the server that gave it, of any server, and when it is over (RFC 2131 section
// 4.4.5). Overdue counts requests that nobody answered.
type Lease struct {
	Server               netip.Addr
	Renew, Rebind, Until vtime.Tick
	Overdue              int
}

// AddressDuplicate is the state of a card whose address another machine has.
const AddressDuplicate = "duplicate"

// Reachable says whether the card has an address, so that its network surfaces
// can be spoken to.
func (a Address) Reachable() bool { return a.Prefix.IsValid() || a.V6.IsValid() }

// Speaks says whether the card has an address of the family of to, which need not
// be valid.
func (a Address) Speaks(to netip.Addr) bool {
	switch {
	case !to.IsValid():
		return false
	case to.Unmap().Is4():
		return a.Prefix.IsValid()
	}
	return a.V6.IsValid()
}
