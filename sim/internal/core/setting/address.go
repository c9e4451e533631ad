package setting

import (
	"fmt"
	"math/bits"
	"net/netip"
	"strconv"
	"strings"
)

// ParseAddr reads one dotted IPv4 address.
func ParseAddr(text string) (netip.Addr, error) {
	addr, err := netip.ParseAddr(text)
	switch {
	case err == nil && addr.Is4():
		return addr, nil
	case err == nil:
		return netip.Addr{}, fmt.Errorf("%q is an IPv6 address, which has settings of its own: type one such as 192.0.2.10", text)
	}
	return netip.Addr{}, fmt.Errorf("%q is not an address: type four numbers from 0 to 255 with dots between, without leading zeros, such as 192.0.2.10", text)
}

// SplitAddress reads an address that a mask may follow after a slash or a space.
func SplitAddress(text string) (netip.Addr, string, error) {
	at := strings.IndexAny(text, "/ \t")
	if at < 0 {
		addr, err := ParseAddr(text)
		return addr, "", err
	}
	addr, err := ParseAddr(text[:at])
	if err != nil {
		return addr, "", err
	}
	return addr, strings.TrimSpace(text[at:]), nil
}

// ParseMask reads a mask as a number of bits, with or without a slash, or
// dotted; the result is 0..32.
func ParseMask(text string) (int, error) {
	text = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(text), "/"))
	if strings.Contains(text, ".") {
		return parseDotted(text)
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 32 || strings.HasPrefix(text, "+") {
		return 0, fmt.Errorf("%q is not a mask: type it as 255.255.255.0 or as a number of bits from 1 to 31, such as /24", text)
	}
	return n, nil
}

func parseDotted(text string) (int, error) {
	addr, err := netip.ParseAddr(text)
	if err != nil || !addr.Is4() {
		return 0, fmt.Errorf("%q is not a mask: type four numbers with dots, such as 255.255.255.0", text)
	}
	b := addr.As4()
	mask := uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
	ones := bits.LeadingZeros32(^mask)
	switch {
	case mask<<ones == 0:
		return ones, nil
	case bits.LeadingZeros32(mask)+bits.OnesCount32(mask) == 32:
		return 0, fmt.Errorf("%s is a mask the wrong way round: did you mean %s?", text, dotted(^mask))
	}
	return 0, fmt.Errorf("%s is not a mask: its one bits are not all on the left; type it as 255.255.255.0 or /24", text)
}

func dotted(x uint32) netip.Addr {
	return netip.AddrFrom4([4]byte{byte(x >> 24), byte(x >> 16), byte(x >> 8), byte(x)})
}

// broadcast is the last address of p's network.
func broadcast(p netip.Prefix) netip.Addr {
	b := p.Masked().Addr().As4()
	x := uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
	return dotted(x | uint32(uint64(1)<<(32-p.Bits())-1))
}

// CheckHost says why p cannot be the address of a machine with its mask. In a
// network of two (/31) both addresses are machines' (RFC 3021).
func CheckHost(p netip.Prefix) error {
	addr := p.Addr()
	first := addr.As4()[0]
	switch {
	case p.Bits() == 0 || p.Bits() == 32:
		return fmt.Errorf("a mask of /%d makes no network: at least 1 and at most 31 bits", p.Bits())
	case first == 0:
		return fmt.Errorf("%s means \"this network\": no machine may have it", addr)
	case addr.IsLoopback():
		return fmt.Errorf("%s is a loopback address: it never leaves a machine", addr)
	case addr.IsMulticast():
		return fmt.Errorf("%s is a multicast address: it belongs to a group, not to a machine", addr)
	case first >= 240:
		return fmt.Errorf("%s is reserved: no machine may have it", addr)
	}
	return checkEnds(p, addr)
}

// checkEnds refuses the first and the last address of p's network for addr.
func checkEnds(p netip.Prefix, addr netip.Addr) error {
	if p.Bits() > 30 {
		return nil
	}
	network, last := p.Masked().Addr(), broadcast(p)
	name := ""
	switch addr {
	case network:
		name = "the network itself"
	case last:
		name = "everybody in the network (broadcast)"
	default:
		return nil
	}
	return fmt.Errorf("with /%d, %s means %s: choose one from %s to %s", p.Bits(), addr, name, network.Next(), last.Prev())
}

// CheckGateway says why gateway cannot serve a card with address p. An invalid
// gateway means none and is accepted.
func CheckGateway(p netip.Prefix, gateway netip.Addr) error {
	switch {
	case !gateway.IsValid():
		return nil
	case gateway == p.Addr():
		return fmt.Errorf("%s is the card's own address: type that of the router", gateway)
	case !p.Contains(gateway):
		return fmt.Errorf("%s is outside the card's network %s: the card could not reach it", gateway, p.Masked())
	}
	return checkEnds(p, gateway)
}

// ParseNetwork reads an address with its mask.
func ParseNetwork(text string) (netip.Prefix, error) {
	addr, mask, err := SplitAddress(strings.TrimSpace(text))
	if err != nil {
		return netip.Prefix{}, err
	}
	if mask == "" {
		return netip.Prefix{}, fmt.Errorf("%s lacks its mask: type it as %s/24 or %s 255.255.255.0", addr, addr, addr)
	}
	bits, err := ParseMask(mask)
	if err != nil {
		return netip.Prefix{}, err
	}
	p := netip.PrefixFrom(addr, bits)
	return p, CheckHost(p)
}
