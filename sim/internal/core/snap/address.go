package snap

import (
	"net/netip"
	"strings"

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
	Lease   Lease      // of a leased one
	Second  netip.Addr // of the network of Prefix, see [LinkSettings.Second]; may be invalid

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

// Has says whether addr is one of the card's addresses.
func (a Address) Has(addr netip.Addr) bool {
	return addr.IsValid() && (addr == a.Prefix.Addr() || addr == a.Second || addr == a.V6.Addr())
}

// Own is the card's address of the family of to, which is not valid if it has none.
func (a Address) Own(to netip.Addr) netip.Addr {
	if to.Unmap().Is4() {
		return a.Prefix.Addr()
	}
	return a.V6.Addr()
}

// Each are the card's addresses.
func (a Address) Each() (list []netip.Addr) {
	for _, addr := range [...]netip.Addr{a.Prefix.Addr(), a.Second, a.V6.Addr()} {
		if addr.IsValid() {
			list = append(list, addr)
		}
	}
	return list
}

// All are the card's addresses as text, "none" if it has none.
func (a Address) All() string {
	var list []string
	for _, addr := range a.Each() {
		list = append(list, addr.String())
	}
	if list == nil {
		return "none"
	}
	return strings.Join(list, ", ")
}

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
