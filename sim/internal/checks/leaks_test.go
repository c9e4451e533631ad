package checks_test

import (
	"net/netip"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

// TestNoLeaks: who ends late is waited for.
func TestNoLeaks(t *testing.T) {
	go time.Sleep(time.Second)
	checks.NoLeaks(t)
}

func TestLoopback(t *testing.T) {
	if a, err := netip.ParseAddr(checks.Loopback()); err != nil || !a.IsLoopback() {
		t.Errorf("%v, %v", a, err)
	}
}
