package serve

import (
	"net"
	"net/netip"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/snmp"
)

// TestWayIsLookedAtAnew: who got through once does so only as long as nothing is in the
// way, and everybody is looked at by himself.
func TestWayIsLookedAtAnew(t *testing.T) {
	source := &slow{device: running(), asked: make(chan snap.Command, 100), let: make(chan struct{})}
	source.dev.Card.Settings.ReadCommunity = snap.NewSecret("touch")
	open := &snap.Site{Device: source.dev}
	open.Card.Address = snap.Address{Prefix: netip.MustParsePrefix("192.0.2.10/24"), State: "bound"}
	shut := *open
	shut.Card.Settings.ChangeLinks(func(l *snap.LinkSettings) error {
		l.Allow = []snap.Allow{{Name: "other", Service: "snmp", Network: netip.MustParsePrefix("198.51.100.0/24")}}
		return nil
	})
	var site atomic.Pointer[snap.Site]
	site.Store(open)
	p := &plan.Plan{Network: plan.Network{Switch: plan.Core, RouterAt: plan.Core}}
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	var readers sync.WaitGroup
	d := &desk{agent: snmp.New(source, snmp.Config{}), conn: conn, start: readers.Go, gate: newGate(&Config{Plan: p}, p, site.Load)}
	d.start(d.read)
	t.Cleanup(func() { conn.Close(); readers.Wait() })
	g := manager(t, conn.LocalAddr().(*net.UDPAddr))
	answered := func() bool {
		_, err := g.Get([]string{".1.3.6.1.2.1.1.5.0"})
		return err == nil
	}
	for range 3 {
		if !answered() {
			t.Fatal("nobody answers")
		}
	}
	site.Store(&shut)
	g.Timeout, g.Retries = 200*time.Millisecond, 0
	if answered() {
		t.Error("the way is shut, and the client still gets through")
	}
	site.Store(open)
	if g.Timeout = 20 * time.Second; !answered() {
		t.Error("the way is open again")
	}
}
