package model

import (
	"bytes"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/face/ber"
)

// TestRecordedVariables: whatever was recorded, the variables have instances with the
// names and values that they were given, in order, and no variable lies under another.
func TestRecordedVariables(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []Recorded
		for range rapid.IntRange(0, 12).Draw(t, "instances") {
			name := append(ber.OID{1, 3, 6}, rapid.SliceOfN(rapid.Uint32Max(3), 0, 4).Draw(t, "arcs")...)
			list = append(list, Recorded{name, ber.AppendInt(nil, ber.Integer, int64(len(list)))})
		}
		slices.SortFunc(list, func(a, b Recorded) int { return a.Name.Compare(b.Name) })
		list = slices.CompactFunc(list, func(a, b Recorded) bool { return a.Name.Equal(b.Name) })
		variables, out := RecordedVariables(list)
		v := View{Dev: &snap.Device{}}
		var last ber.OID
		seen := 0
		for i, x := range variables {
			if i > 0 && (x.OID.Compare(variables[i-1].OID) <= 0 || x.OID.HasPrefix(variables[i-1].OID)) {
				t.Fatalf("%v follows %v", x.OID, variables[i-1].OID)
			}
			for row := range x.Rows(&v) {
				name := x.OID.Child(x.Instance(&v, row))
				at := slices.IndexFunc(list, func(r Recorded) bool { return r.Name.Equal(name) })
				if at < 0 || !bytes.Equal(x.AppendValue(nil, &v, row), list[at].Value) || last != nil && name.Compare(last) <= 0 {
					t.Fatalf("%v with %x after %v", name, x.AppendValue(nil, &v, row), last)
				}
				last = name
				seen++
			}
		}
		if seen+out != len(list) {
			t.Fatalf("%d of %d instances, %d left out", seen, len(list), out)
		}
	})
}
