package snmp

import (
	"sort"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// place is an instance: a position in the objects of a scope and a row of it.
type place struct {
	object, row int
}

// at is the object of a place.
func (s *scope) at(p place) *model.Variable { return s.objects[p.object] }

// seek is the position of the first object that has name under it, or that
// comes wholly behind name.
func (s *scope) seek(name ber.OID) int {
	return sort.Search(len(s.objects), func(i int) bool {
		oid := s.objects[i].OID
		return name.HasPrefix(oid) || oid.Compare(name) > 0
	})
}

// find is the instance of exactly that name; if there is none, the exception
// says whether the object is known.
func (s *scope) find(name ber.OID) (place, ber.Tag) {
	at := place{object: s.seek(name)}
	if at.object == len(s.objects) || !name.HasPrefix(s.at(at).OID) {
		return at, ber.NoSuchObject
	}
	x := s.at(at)
	if s.Quirks != nil && x.Lacks(&s.View) {
		return at, ber.NoSuchObject
	}
	suffix := name[len(x.OID):]
	if len(suffix) == 1 {
		for at.row = range x.Rows(&s.View) {
			if x.Instance(&s.View, at.row) == suffix[0] {
				return at, 0
			}
		}
	}
	return at, ber.NoSuchInstance
}

// findWithin is find within the view: what lies outside of it is not known.
func (s *scope) findWithin(name ber.OID) (place, ber.Tag) {
	at, exception := s.find(name)
	if s.within != snap.Everything() && !s.within.Holds(name) {
		return at, ber.NoSuchObject
	}
	return at, exception
}

// after is the first instance of the scope behind name.
func after(v *scope, name ber.OID) (place, bool) {
	at := place{object: v.seek(name)}
	if at.object < len(v.objects) && len(name) > len(v.at(at).OID) && name.HasPrefix(v.at(at).OID) {
		x := v.at(at)
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
	for ; p.object < len(v.objects); p = (place{object: p.object + 1}) {
		x := v.at(p)
		for rows := x.Rows(&v.View); p.row < rows; p.row++ {
			if v.sees(x.OID, x.Instance(&v.View, p.row)) {
				return p, true
			}
		}
	}
	return p, false
}

// appendInstance appends the variable binding of the instance at p.
func appendInstance(out []byte, v *scope, p place) []byte {
	x := v.at(p)
	out, mark := ber.Open(out, ber.Sequence)
	out = x.AppendName(out, x.Instance(&v.View, p.row))
	return ber.Close(x.AppendValue(out, &v.View, p.row), mark)
}

// appendBinding appends one variable binding of x.
func appendBinding(out []byte, x *model.Variable, instance uint32, value model.Value) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	out = x.AppendName(out, instance)
	return ber.Close(x.Append(out, value), mark)
}

// appendBare is appendBinding for a card that leaves the instance out.
func appendBare(out []byte, x *model.Variable, _ uint32, value model.Value) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	out = ber.AppendOID(out, x.OID)
	return ber.Close(x.Append(out, value), mark)
}

// appendException appends a name with an exception in place of its value.
func appendException(out []byte, exception ber.Tag, name ber.OID, arcs ...uint32) []byte {
	out, mark := ber.Open(out, ber.Sequence)
	out = ber.AppendEmpty(ber.AppendOID(out, name, arcs...), exception)
	return ber.Close(out, mark)
}
