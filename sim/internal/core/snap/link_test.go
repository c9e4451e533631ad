package snap

import (
	"net/netip"
	"testing"
)

// TestLetsIn: rows of who is let in by a list of IPv4, with and without the quirk.
func TestLetsIn(t *testing.T) {
	set := &Settings{}
	err := set.ChangeLinks(func(l *LinkSettings) error {
		l.Allow = []Allow{{Name: "a", Service: "snmp", Network: netip.MustParsePrefix("192.0.2.0/24")}}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	odd := (&Quirks{}).With(Quirk{Kind: QuirkListOfV4})
	for _, row := range []struct {
		q         *Quirks
		service   string
		from      string
		in, acted bool
	}{
		{nil, "snmp", "192.0.2.9", true, false},
		{nil, "snmp", "198.51.100.9", false, false},
		{nil, "snmp", "2001:db8::9", false, false},
		{nil, "ssh", "2001:db8::9", true, false},
		{odd, "snmp", "192.0.2.9", true, false},
		{odd, "snmp", "198.51.100.9", false, false},
		{odd, "snmp", "2001:db8::9", true, true},
		{odd, "ssh", "2001:db8::9", true, false}, // open anyway
	} {
		in, acted := row.q.LetsIn(set, row.service, netip.MustParseAddr(row.from))
		if in != row.in || acted != row.acted {
			t.Errorf("%s from %s: in %v, acted %v; want %v, %v", row.service, row.from, in, acted, row.in, row.acted)
		}
	}
}
