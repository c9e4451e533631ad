package snmp

import (
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
	return s.within == snap.Everything() || s.within.Holds(oid, instance)
}
