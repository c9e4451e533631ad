package card

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func silent(snap.Notification, bool) {}

// TestAlarmTable: RFC 1628 upsAlarmTable: empty at the start, indices from 1,
// rising, an index stays with its row, no two rows of one kind, as many rows as
// conditions.
func TestAlarmTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var table alarmTable
		last, ids := int32(0), map[snap.AlarmKind]int32{}
		for now := range vtime.Tick(rapid.IntRange(1, 50).Draw(t, "changes")) {
			present := device.Conditions(rapid.Uint32Range(0, 1<<24-1).Draw(t, "present") << 1)
			table.update(now, present, false, silent)
			seen := map[snap.AlarmKind]int32{}
			for i, row := range table.rows {
				if seen[row.Kind] != 0 || !present.Has(row.Kind) {
					t.Fatalf("row %d: %v", i, row)
				}
				if i > 0 && row.ID <= table.rows[i-1].ID {
					t.Fatalf("index %d behind %d", row.ID, table.rows[i-1].ID)
				}
				if old := ids[row.Kind]; old != 0 && old != row.ID || old == 0 && (row.ID <= last || row.Since != now) {
					t.Fatalf("%v: %+v, was %d", row.Kind, row, old)
				}
				seen[row.Kind] = row.ID
			}
			for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
				if present.Has(k) != (seen[k] != 0) {
					t.Fatalf("%v: present %v, row %d", k, present.Has(k), seen[k])
				}
			}
			ids, last = seen, table.last
		}
	})
}

// TestAlarmTableTells every insertion and removal with the row's index.
func TestAlarmTableTells(t *testing.T) {
	var table alarmTable
	var got []snap.Notification
	tell := func(n snap.Notification, added bool) {
		if added != (n.Kind == snap.NotifyAlarmAdded) {
			t.Errorf("%+v told as added %v", n, added)
		}
		got = append(got, n)
	}
	both := device.Conditions(0).With(snap.AlarmInputBad, true).With(snap.AlarmFanFailure, true)
	table.update(0, both, false, tell)
	table.update(1, both, false, tell)
	table.update(2, both.With(snap.AlarmInputBad, false), false, tell)
	table.update(3, both, false, tell)
	want := []snap.Notification{
		{Kind: snap.NotifyAlarmAdded, AlarmID: 1, Alarm: snap.AlarmInputBad},
		{Kind: snap.NotifyAlarmAdded, AlarmID: 2, Alarm: snap.AlarmFanFailure},
		{Kind: snap.NotifyAlarmRemoved, AlarmID: 1, Alarm: snap.AlarmInputBad},
		{Kind: snap.NotifyAlarmAdded, AlarmID: 3, Alarm: snap.AlarmInputBad},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestAlarmIndexWraps: past the largest INTEGER it goes on at 1, but not at an
// index that a row still has.
func TestAlarmIndexWraps(t *testing.T) {
	var table alarmTable
	one := device.Conditions(0).With(snap.AlarmInputBad, true)
	table.update(0, one, false, silent)
	table.last = 1<<31 - 2
	two := one.With(snap.AlarmFanFailure, true)
	table.update(1, two, false, silent)
	table.update(2, two.With(snap.AlarmFuseFailure, true), false, silent)
	var ids []int32
	for _, row := range table.rows {
		ids = append(ids, row.ID)
	}
	if diff := cmp.Diff([]int32{1, 1<<31 - 1, 2}, ids); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestOlderThanTheAgent: RFC 1628 upsAlarmTime is 0 for what was there before.
func TestOlderThanTheAgent(t *testing.T) {
	var table alarmTable
	old := device.Conditions(0).With(snap.AlarmInputBad, true)
	table.rebuild(old)
	table.update(7, old.With(snap.AlarmFanFailure, true), true, silent)
	for _, kind := range []snap.AlarmKind{snap.AlarmFanFailure, snap.AlarmFuseFailure} {
		rows := table.rows
		if len(rows) != 2 || !rows[0].Before || rows[1].Before || rows[1].Kind != kind {
			t.Errorf("%+v", rows)
		}
		table.update(9, old.With(snap.AlarmFuseFailure, true), false, silent)
	}
	table.update(10, 0, false, silent)
	table.update(11, old, false, silent)
	if row := table.rows[0]; row.Before || row.Since != 11 {
		t.Errorf("gone and back: %+v", row)
	}
}
