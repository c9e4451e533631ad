package quirk

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Check says why q, which may come from anywhere, cannot be in force, nil if it
// can. Off is a quirk that only goes: of it the kind counts.
func Check(q snap.Quirk, off bool) error {
	if q.Kind == 0 || q.Kind >= snap.QuirkKinds {
		return fmt.Errorf("there is no such quirk: expected one of docs/quirks.md")
	}
	if off {
		return nil
	}
	e := Of(q.Kind)
	if err := e.checkObjects(q); err != nil {
		return err
	}
	if e.Alarms != (len(q.Alarms) > 0) {
		return fmt.Errorf("%d alarms: expected some for a quirk of alarms, and none else", len(q.Alarms))
	}
	for _, a := range q.Alarms {
		if a == 0 || a >= snap.AlarmKinds {
			return fmt.Errorf("an alarm that RFC 1628 does not know")
		}
	}
	for _, n := range []struct {
		name  string
		value float64
		limit Range
	}{{"count", float64(q.Count), e.Count}, {"value", float64(q.Value), e.Value}, {"percent", q.Percent, e.Percent}} {
		if !(n.value >= n.limit.Min && n.value <= n.limit.Max) || math.IsNaN(n.value) {
			return fmt.Errorf("%s is %v: expected %v to %v", n.name, n.value, n.limit.Min, n.limit.Max)
		}
	}
	for _, d := range []struct {
		name  string
		value vtime.Tick
		limit Span
	}{{"delay", q.Delay, e.Delay}, {"lasts", q.Lasts, e.Lasts}} {
		if d.value < d.limit.Min || d.value > d.limit.Max {
			return fmt.Errorf("%s is %v: expected %v to %v", d.name, d.value, d.limit.Min, d.limit.Max)
		}
	}
	return nil
}

func (e *Entry) checkObjects(q snap.Quirk) error {
	if (e.Objects != NoObjects) != (len(q.Objects) > 0) || len(q.Objects) > len(snap.Objects()) {
		return fmt.Errorf("%d objects: expected some for a quirk of objects, and none else", len(q.Objects))
	}
	for _, name := range q.Objects {
		if o := snap.ObjectByName(name); o == nil || !e.Allows(o) {
			return fmt.Errorf("an object that it cannot touch: expected one of those in docs/quirks.md")
		}
	}
	return nil
}
