package quirk

import (
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// TestCheckKnowsTheCatalogue: what the catalogue has by default is right, and what
// lies beyond its limits is not.
func TestCheckKnowsTheCatalogue(t *testing.T) {
	for _, e := range All() {
		q := e.Quirk()
		if e.Objects != NoObjects && len(q.Objects) == 0 {
			q.Objects = e.Choice()[:1]
		}
		if e.Alarms {
			q.Alarms = []snap.AlarmKind{snap.AlarmOnBattery}
		}
		if err := Check(q, false); err != nil {
			t.Errorf("%v: %v", e.Kind, err)
		}
		for name, spoil := range map[string]func(*snap.Quirk){
			"objects": func(q *snap.Quirk) { q.Objects = []string{"sysName"} },
			"alarms":  func(q *snap.Quirk) { q.Alarms = []snap.AlarmKind{0} },
			"count":   func(q *snap.Quirk) { q.Count = int(e.Count.Max) + 1 },
			"value":   func(q *snap.Quirk) { q.Value = int64(e.Value.Max) + 1 },
			"percent": func(q *snap.Quirk) { q.Percent = e.Percent.Max + 1 },
			"delay":   func(q *snap.Quirk) { q.Delay = e.Delay.Max + 1 },
			"lasts":   func(q *snap.Quirk) { q.Lasts = e.Lasts.Max + 1 },
			"kind":    func(q *snap.Quirk) { q.Kind = snap.QuirkKinds },
		} {
			other := q
			spoil(&other)
			if Check(other, false) == nil {
				t.Errorf("%v: %s beyond its limit", e.Kind, name)
			}
		}
		if err := Check(snap.Quirk{Kind: e.Kind}, true); err != nil {
			t.Errorf("%v off: %v", e.Kind, err)
		}
	}
}
