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
