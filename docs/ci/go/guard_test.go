package guard

import (
	"net/netip"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/simtest"
)

func TestMainsReturn(t *testing.T) { t.Parallel(); outage(t) }
func TestPlugByHand(t *testing.T)  { t.Parallel(); outage(t, simtest.Variant("by-hand")) }

func outage(t *testing.T, opts ...simtest.Option) {
	site := simtest.Start(t, simtest.File("../site.toml"), opts...)
	guard := &Guard{Card: client(t, site), Stop: func() { site.Inject("host = 'db'\norder = 'stop'") }}
	for site.Now() < 12*time.Minute {
		if err := guard.Look(); err != nil {
			t.Log(err)
		}
		site.Advance(10 * time.Second)
	}
}

func client(t *testing.T, site *simtest.Site) *gosnmp.GoSNMP {
	at := netip.MustParseAddrPort(site.SNMP)
	c := &gosnmp.GoSNMP{
		Target: at.Addr().String(), Port: at.Port(), Community: site.WriteCommunity,
		Version: gosnmp.Version2c, Timeout: 2 * time.Second, Retries: 2,
	}
	if err := c.Connect(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Conn.Close() })
	return c
}
