package cli

import (
	"net"
	"net/netip"
	"strconv"
	"strings"
)

// port bounds: a client needs a port, a server may take a free one.
const (
	anyPort  = 0
	realPort = 1
)

// isAddress says whether text is HOST:PORT with a port from lowest on.
func isAddress(text string, lowest int) bool {
	_, port, err := net.SplitHostPort(text)
	if err != nil {
		return false
	}
	n, err := strconv.ParseUint(port, 10, 16)
	return err == nil && int(n) >= lowest
}

// receivers reads the --map flags.
func receivers(maps []string) (map[netip.AddrPort]string, error) {
	m := map[netip.AddrPort]string{}
	for _, text := range maps {
		from, to, _ := strings.Cut(text, "=")
		addr, err := netip.ParseAddrPort(from)
		if err != nil {
			return nil, usagef("--map %q: expected ADDR=ENDPOINT, such as 198.51.100.20:162=127.0.0.1:9162", text)
		}
		if !isAddress(to, realPort) {
			return nil, usagef("--map %q: the endpoint %q is not HOST:PORT with a port from 1 to 65535", text, to)
		}
		if _, twice := m[addr]; twice {
			return nil, usagef("--map %q: %s is mapped twice", text, addr)
		}
		m[addr] = to
	}
	return m, nil
}

// mapped refuses to map an address that no receiver of the card has: what is
// misspelt would never get anything.
func mapped(m map[netip.AddrPort]string, known []netip.AddrPort) error {
	has := map[netip.AddrPort]bool{}
	var names []string
	for _, addr := range known {
		if !has[addr] {
			has[addr] = true
			names = append(names, addr.String())
		}
	}
	for addr := range m {
		switch {
		case has[addr]:
		case len(names) == 0:
			return usagef("--map %s: the scenario has no receivers", addr)
		default:
			return usagef("--map %s: the scenario has no such receiver; expected %s", addr, strings.Join(names, " or "))
		}
	}
	return nil
}
