package card

import (
	"slices"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// alarmTable is RFC 1628 upsAlarmTable: one row per present condition, indices
// that rise from 1 with every start of the agent.
type alarmTable struct {
	rows    []snap.Alarm // in order of ID
	shown   device.Conditions
	last    int32
	initial device.Conditions // present when the agent started
}

// rebuild empties the table for a started agent; the conditions of now will
// come in as older than the agent.
func (t *alarmTable) rebuild(present device.Conditions) {
	*t = alarmTable{initial: present}
}

// update brings the table in line with present and tells each change. fresh
// says that the agent has just started.
func (t *alarmTable) update(now vtime.Tick, present device.Conditions, fresh bool, tell func(n snap.Notification, added bool)) {
	if present == t.shown {
		return
	}
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		if t.shown.Has(k) && !present.Has(k) {
			tell(t.remove(k), false)
		}
	}
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		if present.Has(k) && !t.shown.Has(k) {
			tell(t.insert(now, k, fresh), true)
		}
	}
	t.shown = present
}

func (t *alarmTable) insert(now vtime.Tick, k snap.AlarmKind, fresh bool) snap.Notification {
	t.last = t.nextID()
	t.rows = append(t.rows, snap.Alarm{ID: t.last, Kind: k, Since: now, Before: fresh && t.initial.Has(k)})
	return snap.Notification{Kind: snap.NotifyAlarmAdded, AlarmID: t.last, Alarm: k}
}

func (t *alarmTable) remove(k snap.AlarmKind) snap.Notification {
	for i, row := range t.rows {
		if row.Kind == k {
			t.rows = slices.Delete(t.rows, i, i+1)
			return snap.Notification{Kind: snap.NotifyAlarmRemoved, AlarmID: row.ID, Alarm: k}
		}
	}
	panic("card: alarm " + k.String() + " is shown but has no row")
}

// view is the table as the surfaces see it.
func (t *alarmTable) view() (a snap.Alarms) {
	a.Count = copy(a.Rows[:], t.rows)
	return a
}

// nextID is the next index that no row has: they rise, and wrap to 1 past the
// largest positive INTEGER (RFC 1628 upsAlarmId).
func (t *alarmTable) nextID() int32 {
	id := t.last
	for {
		if id++; id <= 0 {
			id = 1
		}
		if !t.uses(id) {
			return id
		}
	}
}

func (t *alarmTable) uses(id int32) bool {
	for _, row := range t.rows {
		if row.ID == id {
			return true
		}
	}
	return false
}
