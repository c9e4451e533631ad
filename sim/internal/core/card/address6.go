package card

import (
	"encoding/hex"
	"net/netip"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

// six brings the card's IPv6 address in line with what is set and what the router
// advertises. Its link-local address is left out: nobody behind a router has use
// for it.
func (a *addressing) six() {
	before := a.now.V6
	a.now.V6, a.now.V6Gateway = netip.Prefix{}, netip.Addr{}
	a.now.V6State = a.state6()
	if a.now.V6 != before && a.now.V6.IsValid() {
		a.note("card", "address "+a.now.V6.String()+" ("+a.now.V6State+")")
	}
}

func (a *addressing) state6() string {
	if a.set.Mode == "" || a.noLink {
		return ""
	}
	l := a.set.Link()
	address, gateway, state := l.V6Address, l.V6Gateway, "fixed"
	switch l.V6Mode {
	case snap.V6Off:
		return "off"
	case snap.V6Auto:
		if !a.router || !a.net.Prefix6.IsValid() {
			return "searching"
		}
		address, gateway, state = a.auto6(), a.net.Router6, "auto"
	}
	if a.has(address.Addr()) {
		return snap.AddressDuplicate
	}
	a.now.V6, a.now.V6Gateway = address, gateway
	return state
}

// auto6 is the prefix with the modified EUI-64 of the hardware address (RFC 4291
// appendix A).
func (a *addressing) auto6() netip.Prefix {
	b := a.net.Prefix6.Masked().Addr().As16()
	id := eui64(a.of.cfg.Identity.Hardware)
	copy(b[8:], id[:])
	return netip.PrefixFrom(netip.AddrFrom16(b), a.net.Prefix6.Bits())
}

func eui64(hardware string) (id [8]byte) {
	mac, err := hex.DecodeString(strings.NewReplacer(":", "", "-", "").Replace(hardware))
	if err != nil || len(mac) != 6 {
		return id // the scenario has checked it
	}
	copy(id[:], []byte{mac[0] ^ 2, mac[1], mac[2], 0xff, 0xfe, mac[3], mac[4], mac[5]})
	return id
}

// route has the router of the card's network come or go.
func (a *addressing) route(on bool) {
	a.router = on
	if a.now.State != "" {
		a.six()
	}
}
