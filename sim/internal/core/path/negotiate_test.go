package path

import (
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// TestNegotiate: IEEE 802.3 clause 28: annex 28B.3 for two ends that negotiate, clause
// 28.2.3.1 (parallel detection) for one alone, which comes to half duplex.
func TestNegotiate(t *testing.T) {
	for _, c := range []struct {
		card, port snap.LinkMode
		want       Agreement
		differ     bool
	}{
		{snap.LinkAuto, snap.LinkAuto, Agreement{100, false, false}, false},
		{snap.Link100Full, snap.LinkAuto, Agreement{100, false, true}, true},
		{snap.Link10Full, snap.LinkAuto, Agreement{10, false, true}, true},
		{snap.Link100Half, snap.LinkAuto, Agreement{100, true, true}, false},
		{snap.LinkAuto, snap.Link100Full, Agreement{100, true, false}, true},
		{snap.LinkAuto, snap.Link10Half, Agreement{10, true, true}, false},
		{snap.Link100Full, snap.Link100Full, Agreement{100, false, false}, false},
		{snap.Link100Full, snap.Link100Half, Agreement{100, false, true}, true},
		{snap.Link10Full, snap.Link100Full, Agreement{}, false},
		{snap.Link10Half, snap.Link100Full, Agreement{}, false},
	} {
		if got := Negotiate(c.card, c.port); got != c.want || got.Differ() != c.differ {
			t.Errorf("%s against %s: %+v, want %+v", c.card, c.port, got, c.want)
		}
	}
}
