package card

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
)

// TestRegroup: what was set for a group of that name stays, whatever groups the unit
// has now.
func TestRegroup(t *testing.T) {
	set, gone := snap.FreshGroup("racks"), snap.FreshGroup("cellar")
	set.Label, set.MinPct = "front", 30
	got := regroup([]snap.OutletGroup{snap.FreshGroup("desks"), snap.FreshGroup("racks")}, []snap.OutletGroup{set, gone})
	if diff := cmp.Diff([]snap.OutletGroup{snap.FreshGroup("desks"), set}, got); diff != "" {
		t.Error(diff)
	}
}

// TestHeldGroupsAreKept: which groups were ordered off is kept once for each change,
// over lives and over a reset.
func TestHeldGroupsAreKept(t *testing.T) {
	m := &snap.Memory{}
	c, k := waking(t, m)
	lay(m, k)
	c.KeepHeld([]string{"desks"})
	if k = c.Keep(); k == nil || string(k.Sections["groups-off"]) != `["desks"]` {
		t.Fatalf("it keeps %+v", k)
	}
	lay(m, k)
	if c.KeepHeld([]string{"desks"}); c.Keep() != nil {
		t.Error("nothing changed, and it keeps something")
	}
	c.Reset(10, snap.Actor{Surface: "serial"}, ResetAll)
	lay(m, c.Keep())
	if c, _ = waking(t, m); !cmp.Equal(c.Held(), []string{"desks"}) {
		t.Errorf("the next life holds %v", c.Held())
	}
}
