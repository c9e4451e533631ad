package site_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestPassedWhileBooting: what befalls probes and contacts while the card boots is
// sent once when it has started, and what was sent before is sent again.
func TestPassedWhileBooting(t *testing.T) {
	r := playtest.Start(t, pair)
	r.To(vtime.Minute)
	r.Inject(`card = "restart"`).To(vtime.Minute + 5*vtime.Second)
	r.Inject(`probe = { warm = "inlet", by_k = 10 }`)
	r.Inject(`contact = { name = "leak", is = "closed" }`)
	r.To(2 * vtime.Minute)
	if r.Site.Card.State != snap.CardBooting {
		t.Fatalf("the card is %s", r.Site.Card.State)
	}
	wantKinds(t, r)
	r.To(5 * vtime.Minute)
	if r.Site.Card.State != snap.CardRunning {
		t.Fatalf("the card is %s", r.Site.Card.State)
	}
	wantKinds(t, r, "probe_alert inlet temperature", "contact_changed leak active")
	r.Ask(snap.OpRestart).To(10 * vtime.Minute)
	wantKinds(t, r, "probe_alert inlet temperature", "contact_changed leak active", "probe_alert inlet temperature", "contact_changed leak active")
}

// TestCutWhileBooting: a probe that was pulled out meanwhile is told as lost, and one
// that is well is not told of.
func TestCutWhileBooting(t *testing.T) {
	r := playtest.Start(t, pair)
	r.To(vtime.Minute)
	r.Inject(`card = "restart"`).To(vtime.Minute + 5*vtime.Second)
	r.Inject(`probe = { unplug = "exhaust" }`)
	r.To(5 * vtime.Minute)
	wantKinds(t, r, "probe_alert exhaust cable")
}
