package setting

import (
	"net/netip"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// TestSourceFits: a source that the card cannot have by its settings, or that cannot send to
// the receiver, is refused with the reason, and auto always fits.
func TestSourceFits(t *testing.T) {
	six := func(s *snap.Settings, mode, address string) {
		s.ChangeLinks(func(l *snap.LinkSettings) error {
			l.V6Mode = mode
			if address != "" {
				l.V6Address = netip.MustParsePrefix(address)
			}
			return nil
		})
	}
	for name, row := range map[string]struct {
		to, source string
		change     func(*snap.Settings)
		reason     string
	}{
		"any":               {"198.51.100.20:162", "auto", nil, ""},
		"its own":           {"198.51.100.20:162", "192.0.2.10", nil, ""},
		"another":           {"198.51.100.20:162", "192.0.2.11", nil, "is not the card's: its IPv4 address is set to 192.0.2.10"},
		"the second":        {"198.51.100.20:162", "192.0.2.11", func(s *snap.Settings) { second(s, "192.0.2.11") }, ""},
		"a third":           {"198.51.100.20:162", "192.0.2.12", func(s *snap.Settings) { second(s, "192.0.2.11") }, "is set to 192.0.2.10, its second one to 192.0.2.11"},
		"by lease":          {"198.51.100.20:162", "192.0.2.11", func(s *snap.Settings) { s.Mode = snap.AddressDHCP }, ""},
		"four to six":       {"[2001:db8::20]:162", "192.0.2.10", nil, "cannot send to 2001:db8::20"},
		"six to four":       {"198.51.100.20:162", "2001:db8::10", func(s *snap.Settings) { six(s, snap.V6Fixed, "2001:db8::10/64") }, "cannot send to 198.51.100.20"},
		"six":               {"[2001:db8::20]:162", "2001:db8::10", func(s *snap.Settings) { six(s, snap.V6Fixed, "2001:db8::10/64") }, ""},
		"another six":       {"[2001:db8::20]:162", "2001:db8::11", func(s *snap.Settings) { six(s, snap.V6Fixed, "2001:db8::10/64") }, "its IPv6 address is set to 2001:db8::10"},
		"six by the router": {"[2001:db8::20]:162", "2001:db8::11", func(s *snap.Settings) { six(s, snap.V6Auto, "") }, ""},
		"six while off":     {"[2001:db8::20]:162", "2001:db8::10", nil, "IPv6 is off"},
		"no address":        {"198.51.100.20:162", "192.0.2", nil, "expected auto, or one of the card's own addresses"},
		"anything":          {"198.51.100.20:162", "0.0.0.0", nil, "expected auto"},
		"mapped":            {"198.51.100.20:162", "::ffff:192.0.2.10", nil, "expected auto"},
		"with a zone":       {"[2001:db8::20]:162", "fe80::1%eth0", nil, "expected auto"},
	} {
		to := sample()
		to.Mode, to.Fixed, to.Gateway = snap.AddressFixed, netip.MustParsePrefix("192.0.2.10/24"), netip.Addr{}
		to.Alerts = to.Alerts.Clone()
		to.Alerts.Receivers = []snap.Receiver{{Name: "m", To: netip.MustParseAddrPort(row.to), Version: "v2c", Community: snap.NewSecret("x"), Timeout: 2000}}
		if row.change != nil {
			row.change(to)
		}
		from := to.Clone()
		x, err := Find(to, "alerts.receivers.m.source")
		if err != nil {
			t.Fatal(err)
		}
		if err = x.Set(to, row.source); err == nil {
			err = Check(from, to)
		}
		if (err == nil) != (row.reason == "") || err != nil && !strings.Contains(err.Error(), row.reason) {
			t.Errorf("%s: %v", name, err)
		}
		if err == nil && x.Get(to) != row.source {
			t.Errorf("%s: reads %s", name, x.Get(to))
		}
	}
}

func second(s *snap.Settings, address string) {
	s.ChangeLinks(func(l *snap.LinkSettings) error { l.Second = netip.MustParseAddr(address); return nil })
}

// TestSecondAddress: beside a fixed address it is another one of its network.
func TestSecondAddress(t *testing.T) {
	for address, reason := range map[string]string{
		"192.0.2.11": "", "none": "", "192.0.2.10": "is the card's address or its gateway", "192.0.2.1": "is the card's address or its gateway",
		"198.51.100.10": "is not in the network of the card's address, 192.0.2.0/24", "192.0.2.255": "192.0.2.255", "2001:db8::1": "2001:db8::1", "192.0.2": "192.0.2",
	} {
		s := sample()
		s.Mode, s.Fixed, s.Gateway = snap.AddressFixed, netip.MustParsePrefix("192.0.2.10/24"), netip.MustParseAddr("192.0.2.1")
		from := s.Clone()
		x, err := Find(s, "reach.second-address")
		if err != nil {
			t.Fatal(err)
		}
		if err = x.Set(s, address); err == nil {
			err = Check(from, s)
		}
		if (err == nil) != (reason == "") || err != nil && !strings.Contains(err.Error(), reason) {
			t.Errorf("%s: %v", address, err)
		}
		if s.Mode = snap.AddressDHCP; err == nil && Check(from, s) != nil {
			t.Errorf("%s: refused with a lease", address)
		}
	}
}
