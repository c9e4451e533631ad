package card

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// quirkyBench is a card with an address, quirks, and a memory of what it noted.
func quirkyBench(list ...snap.Quirk) (*bench, *[]string) {
	b := newBench(snap.AddressFixed)
	notes := new([]string)
	b.card.says = func(_ snap.What, subject, text string) { *notes = append(*notes, subject+": "+text) }
	for _, q := range list {
		b.card.SetQuirk(q)
	}
	return b, notes
}

// heard counts notifications of a kind.
func (b *bench) heard(k snap.NotifyKind) (n int) {
	for _, s := range b.sent {
		if s.Kind == k {
			n++
		}
	}
	return n
}

func TestOnBatteryOnce(t *testing.T) {
	b, notes := quirkyBench(snap.Quirk{Kind: snap.QuirkOnBatteryOnce})
	for range 2 {
		b.set(snap.AlarmOnBattery, true)
		b.to(t, b.now+5*vtime.Minute)
		b.set(snap.AlarmOnBattery, false)
		b.to(t, b.now+vtime.Minute)
	}
	if n := b.heard(snap.NotifyOnBattery); n != 2 {
		t.Errorf("%d notifications of two outages", n)
	}
	if got := strings.Join(*notes, "\n"); !strings.Contains(got, "quirk: on-battery-once acted\n") {
		t.Error(got)
	}
	b.card.ClearQuirk(snap.QuirkOnBatteryOnce)
	b.set(snap.AlarmOnBattery, true)
	b.to(t, b.now+5*vtime.Minute)
	if n := b.heard(snap.NotifyOnBattery); n != 8 {
		t.Errorf("%d notifications; six more were due", n)
	}
}

func TestNoAllClear(t *testing.T) {
	b, _ := quirkyBench(snap.Quirk{Kind: snap.QuirkNoAllClear})
	b.set(snap.AlarmFanFailure, true)
	b.to(t, vtime.Minute)
	b.set(snap.AlarmFanFailure, false)
	b.to(t, 2*vtime.Minute)
	if added, removed := b.heard(snap.NotifyAlarmAdded), b.heard(snap.NotifyAlarmRemoved); added != 1 || removed != 0 {
		t.Errorf("%d added, %d removed", added, removed)
	}
	if len(b.card.table.rows) != 0 {
		t.Error("the row is still there")
	}
}

// TestUnlistedAlarms: neither in the table nor told of, but on battery is on battery.
func TestUnlistedAlarms(t *testing.T) {
	b, _ := quirkyBench(snap.Quirk{Kind: snap.QuirkUnlistedAlarms, Alarms: []snap.AlarmKind{snap.AlarmOnBattery, snap.AlarmBatteryBad}})
	for _, k := range []snap.AlarmKind{snap.AlarmOnBattery, snap.AlarmBatteryBad, snap.AlarmInputBad} {
		b.set(k, true)
	}
	b.to(t, 90*vtime.Second)
	if a := b.card.table.view(); a.Count != 1 || !a.Has(snap.AlarmInputBad) {
		t.Errorf("table %+v", a.Rows[:a.Count])
	}
	if added, on := b.heard(snap.NotifyAlarmAdded), b.heard(snap.NotifyOnBattery); added != 1 || on != 2 {
		t.Errorf("%d alarms added, %d times on battery in 90 s", added, on)
	}
}

func TestStorm(t *testing.T) {
	b, notes := quirkyBench(snap.Quirk{Kind: snap.QuirkStorm, Count: 30})
	for range 3 { // within the pause that the standard asks for
		b.set(snap.AlarmFanFailure, true)
		b.set(snap.AlarmFanFailure, false)
		b.to(t, b.now+vtime.Second)
	}
	if n := b.heard(snap.NotifyAlarmAdded); n != 90 || b.card.Sent()[snap.NotifyAlarmAdded] != 90 {
		t.Errorf("%d notifications, %d counted", n, b.card.Sent()[snap.NotifyAlarmAdded])
	}
	acted := 0
	for _, n := range *notes {
		if strings.HasPrefix(n, "quirk: storm acted") {
			acted++
		}
	}
	if acted != 1 {
		t.Errorf("%d lines in three seconds", acted)
	}
}

// TestNoPause: without the pause each change is told once, at once and in order, nothing is
// merged, and notifications of others stay as they are; with it what came and went is.
func TestNoPause(t *testing.T) {
	for name, row := range map[string]struct {
		quirk          snap.QuirkKind
		added, removed int
		acts           bool
	}{"without": {snap.QuirkNoPause, 3, 3, true}, "with": {snap.QuirkOnBatteryOnce, 1, 1, false}} {
		b, notes := quirkyBench(snap.Quirk{Kind: row.quirk})
		for range 3 { // within the pause that the standard asks for
			b.set(snap.AlarmFanFailure, true)
			b.set(snap.AlarmFanFailure, false)
			b.to(t, b.now+vtime.Second)
		}
		if added, removed := b.heard(snap.NotifyAlarmAdded), b.heard(snap.NotifyAlarmRemoved); added != row.added || removed != row.removed {
			t.Errorf("%s: %d added, %d removed", name, added, removed)
		}
		if acts := strings.Contains(strings.Join(*notes, "\n"), "quirk: no-pause acted"); acts != row.acts {
			t.Errorf("%s: it acted %v", name, acts)
		}
		b.to(t, b.now+10*vtime.Second)
		if added, removed := b.heard(snap.NotifyAlarmAdded), b.heard(snap.NotifyAlarmRemoved); row.acts && (added != 3 || removed != 3) || !row.acts && added != removed {
			t.Errorf("%s, later: %d added, %d removed", name, added, removed)
		}
	}
}

// TestActsGetRare: a quirk that acts every second for a day says so a few times.
func TestActsGetRare(t *testing.T) {
	b, notes := quirkyBench(snap.Quirk{Kind: snap.QuirkHung})
	for s := range vtime.Tick(24 * 3600) {
		b.card.Acted(s*vtime.Second, snap.QuirkHung)
	}
	if n := len(*notes); n < 24 || n > 40 {
		t.Errorf("%d lines", n)
	}
}

func TestQuirksComeAndGo(t *testing.T) {
	b, notes := quirkyBench()
	if b.card.Quirks() != nil {
		t.Error("there are some")
	}
	b.card.ClearQuirk(snap.QuirkHung)
	b.card.SetQuirk(snap.Quirk{Kind: snap.QuirkHung})
	before := b.card.Quirks()
	b.card.SetQuirk(snap.Quirk{Kind: snap.QuirkLossy, Percent: 10})
	b.card.SetQuirk(snap.Quirk{Kind: snap.QuirkLossy, Percent: 20})
	if before.Of(snap.QuirkLossy) != nil {
		t.Error("quirks that were published have changed")
	}
	if got := b.card.Quirks(); got.Of(snap.QuirkLossy).Percent != 20 || got.Of(snap.QuirkHung) == nil {
		t.Errorf("%v", got.Names())
	}
	b.card.ClearQuirk(0)
	if b.card.Quirks() != nil {
		t.Error("some are left")
	}
	if got := strings.Join(*notes, "; "); got != "quirk: hung off; quirk: hung on; quirk: lossy on; quirk: lossy on; quirk: all off" {
		t.Error(got)
	}
}
