package site

import (
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// TestDelivered counts what became of informs, and refuses kinds that a journal
// may name but nobody knows.
func TestDelivered(t *testing.T) {
	s := &Site{self: &plan.Member{Network: new(plan.Network)}, Scratch: new(Scratch), plan: new(plan.Plan)}
	by := snap.Actor{Surface: "snmp", Peer: "198.51.100.20:162"}
	for _, tt := range []struct {
		kind snap.NotifyKind
		ok   bool
		want snap.Status
	}{
		{snap.NotifyOnBattery, true, snap.Done}, {snap.NotifyOnBattery, false, snap.Done}, {snap.NotifyOnBattery, false, snap.Done},
		{0, true, snap.WrongValue}, {snap.NotifyKinds, true, snap.WrongValue}, {255, false, snap.WrongValue},
	} {
		if got := s.delivered(snap.Command{Op: snap.OpAck, Notify: tt.kind, OK: tt.ok, By: by, Text: "no answer"}); got.Status != tt.want {
			t.Errorf("%d: %+v", tt.kind, got)
		}
	}
	acked, unacked := s.delivery()
	if acked[snap.NotifyOnBattery] != 1 || unacked[snap.NotifyOnBattery] != 2 || len(s.events) != 3 {
		t.Errorf("acknowledged %v, not %v, %d events", acked, unacked, len(s.events))
	}
}
