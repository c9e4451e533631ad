package site_test

import (
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const dipped = `
title = "dips"
run_for = "2h"
[battery]
block = "agm-12v-9ah"
[card]
address = "192.0.2.10/24"
boot_takes = "10s"
[card.settings]
"upkeep.input.least-time" = "LEAST"
[[host]]
name = "db"
draw_w = 300
hold_up = "20ms"
`

// TestLeastTimeOfADip: an input that is bad for less is neither counted nor an alarm; from that
// time on it is both, once; the load goes to the battery at once whatever is set.
func TestLeastTimeOfADip(t *testing.T) {
	for _, row := range []struct {
		least, lasts string
		counts       uint32
		alarmAfter   vtime.Tick // since the dip began; Never
	}{
		{"0s", "20ms", 1, 0},
		{"0s", "5s", 1, 0},
		{"1s", "999ms", 0, vtime.Never},
		{"1s", "1s", 1, vtime.Never}, // over in the instant in which it counts
		{"1s", "1001ms", 1, vtime.Second},
		{"1s", "20s", 1, vtime.Second},
		{"1m", "59s", 0, vtime.Never},
		{"1m", "61s", 1, vtime.Minute},
		{"250ms", "249ms", 0, vtime.Never},
		{"250ms", "300ms", 1, 250},
	} {
		r := playtest.Start(t, strings.Replace(dipped, "LEAST", row.least, 1)).To(vtime.Minute)
		r.Inject(`source = { volts = 0, lasts = "` + row.lasts + `" }`)
		if !r.Site.Alarms.Has(snap.AlarmOnBattery) || r.Site.UPS.Source != snap.SourceBattery {
			t.Fatalf("%+v: the load is not on the battery at once", row)
		}
		alarm := vtime.Never
		for r.Engine.Now() < 5*vtime.Minute {
			if r.Site.Alarms.Has(snap.AlarmInputBad) && alarm == vtime.Never {
				alarm = r.Engine.Now() - vtime.Minute
			}
			r.Step()
		}
		if r.Site.UPS.LineBads != row.counts || alarm != row.alarmAfter || r.Site.Transfers != 1 {
			t.Errorf("least %s, lasts %s: counted %d, alarm after %v, %d transfers", row.least, row.lasts, r.Site.UPS.LineBads, alarm, r.Site.Transfers)
		}
		events, _ := r.Site.Card.Entries(snap.JournalEvents)
		if told := strings.Contains(fmt.Sprint(events), "input_bad"); told != (row.alarmAfter != vtime.Never) || !strings.Contains(fmt.Sprint(events), "on_battery") {
			t.Errorf("%+v: the journal has %v", row, events)
		}
	}
}

// TestLeastTimeIsTheUnits: it goes on while the card restarts; a new one counts from the next
// dip on, and one that was set without contact from when there is contact again.
func TestLeastTimeIsTheUnits(t *testing.T) {
	r := playtest.Start(t, strings.Replace(dipped, "LEAST", "1s", 1)).To(vtime.Minute)
	dip := func(want uint32) {
		t.Helper()
		before := r.Site.UPS.LineBads
		r.Inject(`source = { volts = 0, lasts = "500ms" }`)
		if r.To(r.Engine.Now() + 20*vtime.Second); r.Site.UPS.LineBads-before != want {
			t.Errorf("counted %d times, want %d", r.Site.UPS.LineBads-before, want)
		}
	}
	set := func(least string) {
		t.Helper()
		r.Inject(`settings = { "upkeep.input.least-time" = "` + least + `" }`)
	}
	dip(0)
	r.Inject(`card = "restart"`)
	dip(0)
	r.To(r.Engine.Now() + vtime.Minute)
	r.Inject(`source = { volts = 0, lasts = "500ms" }`)
	set("0s")
	if r.To(r.Engine.Now() + 20*vtime.Second); r.Site.UPS.LineBads != 0 {
		t.Error("the dip that was there is counted by what was set after it had begun")
	}
	dip(1)
	r.Inject(`ups_link = "lost"`)
	set("1s")
	dip(1)
	r.Inject(`ups_link = "up"`)
	r.To(r.Engine.Now() + vtime.Minute)
	dip(0)
}
