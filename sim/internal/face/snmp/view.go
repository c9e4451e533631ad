package snmp

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// scope is what one request may see: values, and the part of the tree in which
// they are there for it.
type scope struct {
	model.View
	objects []*model.Variable // that the card has, in order
	within  *snap.View        // nil: nothing
}

// sees says whether the instance of oid lies within the scope.
func (s *scope) sees(oid ber.OID, instance uint32) bool {
	return s.within == snap.Everything() || holds(s.within, oid, instance)
}

// holds says whether the longest of the view's subtrees that oid, with further
// arcs behind it, lies in is an included one (RFC 3415
// vacmViewTreeFamilyTable).
func holds(v *snap.View, oid ber.OID, arcs ...uint32) bool {
	if v == nil {
		return false
	}
	longest, included := -1, false
	for i := range v.Subtrees {
		if s := &v.Subtrees[i]; len(s.OID) > longest && under(s.OID, oid, arcs) {
			longest, included = len(s.OID), s.Included
		}
	}
	return included
}

// under says whether oid with arcs behind it lies in the subtree.
func under(subtree []uint32, oid ber.OID, arcs []uint32) bool {
	n := min(len(subtree), len(oid))
	rest := subtree[n:]
	return slices.Equal(subtree[:n], oid[:n]) && len(rest) <= len(arcs) && slices.Equal(rest, arcs[:len(rest)])
}
