package model

import (
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// TestNotifyOIDs holds the identities that the core tells sinks against those that
// are sent.
func TestNotifyOIDs(t *testing.T) {
	for _, n := range Notifications() {
		if n.Kind.OID() != n.OID.String() || snap.NotifyByOID(n.OID.String()) != n.Kind {
			t.Errorf("%v: %s in the core, %s on the wire", n.Kind, n.Kind.OID(), n.OID)
		}
	}
	if snap.NotifyByOID("1.3") != 0 {
		t.Error("1.3 is a notification")
	}
}
