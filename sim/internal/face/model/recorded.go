package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// Recorded is an instance that somebody has recorded, with its value as it is encoded.
type Recorded struct {
	Name  ber.OID
	Value []byte
}

// RecordedVariables are variables that answer with what was recorded, whatever the
// device is: for an agent in the place of the card that it was recorded of. The
// instances are in the order of their names. Those that an agent cannot tell apart
// from a part of the tree, because others stand under them, are left out: it says how
// many. Nothing can be written.
func RecordedVariables(list []Recorded) (variables []*Variable, out int) {
	for i := range list {
		name := list[i].Name
		if len(name) < 3 || i+1 < len(list) && list[i+1].Name.HasPrefix(name) {
			out++
			continue
		}
		parent, arc := name[:len(name)-1], name[len(name)-1]
		if n := len(variables); n > 0 && variables[n-1].OID.Equal(parent) {
			variables[n-1].recorded.add(arc, list[i].Value)
			continue
		}
		if n := len(variables); n > 0 && (parent.HasPrefix(variables[n-1].OID) || variables[n-1].OID.HasPrefix(parent)) {
			out++ // among instances with one arc one with more
			continue
		}
		r := &recorded{}
		r.add(arc, list[i].Value)
		variables = append(variables, &Variable{OID: parent, Access: ReadOnly, head: ber.Head(parent), recorded: r, Table: &Table{
			rows:  func(*snap.Device) int { return len(r.arcs) },
			index: func(_ *snap.Device, row int) uint32 { return r.arcs[row] },
		}})
	}
	return variables, out
}

// recorded is what a variable answers with that does not look at the device.
type recorded struct {
	arcs   []uint32
	values [][]byte
}

func (r *recorded) add(arc uint32, value []byte) {
	r.arcs, r.values = append(r.arcs, arc), append(r.values, value)
}
