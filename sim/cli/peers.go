package cli

import (
	"cmp"
	"net/netip"
	"slices"
	"strings"
)

// peers reads which client plays which peer.
func peers(texts []string) (map[string]netip.Addr, error) {
	m, taken := map[string]netip.Addr{}, map[netip.Addr]bool{}
	for _, text := range texts {
		name, at, _ := strings.Cut(text, "=")
		addr, err := netip.ParseAddr(at)
		if err != nil || name == "" {
			return nil, usagef("--peer %q: expected NAME=ADDR, such as desk=127.0.0.2", text)
		}
		if _, twice := m[name]; twice || taken[addr] {
			return nil, usagef("--peer %q: the peer or the address stands twice", text)
		}
		m[name], taken[addr] = addr, true
	}
	return m, nil
}

// playable refuses a peer that the scenario does not have.
func playable(m map[string]netip.Addr, known []string) error {
	for name := range m {
		if !slices.Contains(known, name) {
			return usagef("--peer: there is no [[peer]] %q in the scenario; it has %s", name, cmp.Or(strings.Join(known, ", "), "none"))
		}
	}
	return nil
}
