package snmp

import (
	"sort"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// objects is every variable that can be read, in order.
var objects = readable()

func readable() []*model.Variable {
	var list []*model.Variable
	for _, x := range model.All() {
		if x.Access != model.NotAccessible {
			list = append(list, x)
		}
	}
	return list
}

// place is an instance: a position in objects and a row of it.
type place struct {
	object, row int
}

func (p place) variable() *model.Variable { return objects[p.object] }

// seek is the position of the first object that has name under it, or that
// comes wholly behind name.
func seek(name ber.OID) int {
	return sort.Search(len(objects), func(i int) bool {
		oid := objects[i].OID
		return name.HasPrefix(oid) || oid.Compare(name) > 0
	})
}

// find is the instance of exactly that name; if there is none, the exception
// says whether the object is known.
func find(v *model.View, name ber.OID) (place, ber.Tag) {
	at := place{object: seek(name)}
	if at.object == len(objects) || !name.HasPrefix(at.variable().OID) {
		return at, ber.NoSuchObject
	}
	x := at.variable()
	suffix := name[len(x.OID):]
	if len(suffix) == 1 {
		for at.row = range x.Rows(v) {
			if x.Instance(v, at.row) == suffix[0] {
				return at, 0
			}
		}
	}
	return at, ber.NoSuchInstance
}

// findWithin is find in a scope: what lies outside of it is not known.
func findWithin(s *scope, name ber.OID) (place, ber.Tag) {
	at, exception := find(&s.View, name)
	if s.within != snap.Everything() && !holds(s.within, name) {
		return at, ber.NoSuchObject
	}
	return at, exception
}

// after is the first instance of the scope behind name.
func after(v *scope, name ber.OID) (place, bool) {
	at := place{object: seek(name)}
	if at.object < len(objects) && len(name) > len(at.variable().OID) && name.HasPrefix(at.variable().OID) {
		x := at.variable()
		last := name[len(x.OID)]
		for at.row < x.Rows(&v.View) && x.Instance(&v.View, at.row) <= last {
			at.row++
		}
	}
	return at.settle(v)
}

// next is the instance of the scope behind p.
func (p place) next(v *scope) (place, bool) {
	p.row++
	return p.settle(v)
}

// settle moves p from the end of an object, or from what the scope does not
// hold, to the first instance behind it that is there.
func (p place) settle(v *scope) (place, bool) {
	for ; p.object < len(objects); p = (place{object: p.object + 1}) {
		x := p.variable()
		for rows := x.Rows(&v.View); p.row < rows; p.row++ {
			if v.sees(x.OID, x.Instance(&v.View, p.row)) {
				return p, true
			}
		}
	}
	return p, false
}

// appendInstance appends the variable binding of the instance at p.
func appendInstance(out []byte, v *model.View, p place) []byte {
	x := p.variable()
	return appendBinding(out, x, x.Instance(v, p.row), x.At(v, p.row))
}

// appendBinding appends one variable binding of x.
func appendBinding(out []byte, x *model.Variable, instance uint32, value model.Value) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	out = ber.AppendOID(out, x.OID, instance)
	switch tag := x.Syntax.Tag; tag {
	case ber.OctetString:
		out = ber.AppendString(out, tag, value.Text)
	case ber.ObjectID:
		out = ber.AppendOID(out, value.OID)
	default:
		out = ber.AppendInt(out, tag, value.Int)
	}
	return ber.Close(out, mark)
}

// appendException appends a name with an exception in place of its value.
func appendException(out []byte, exception ber.Tag, name ber.OID, arcs ...uint32) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	out = ber.AppendEmpty(ber.AppendOID(out, name, arcs...), exception)
	return ber.Close(out, mark)
}
