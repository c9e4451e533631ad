package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// Refusal says why a value can never be written to a variable. The names are
// SNMP's error codes.
type Refusal uint8

// Refusals.
const (
	Accepted Refusal = iota
	WrongType
	WrongLength
	WrongValue
)

// Accept turns a value received for a writable variable into what the engine is
// asked to do. It checks type, length and range; whether the value suits the
// present state is for the engine to say.
func (x *Variable) Accept(value ber.Value) (snap.Assignment, Refusal) {
	set := snap.Assignment{Var: snap.Var(x.Name)}
	if value.Tag != x.Syntax.Tag {
		return set, WrongType
	}
	switch x.Syntax.Tag {
	case ber.OctetString:
		set.Text = string(value.Bytes)
		return set, x.acceptText(value.Bytes)
	case ber.ObjectID:
		set.Int = int64(testKind(value.OID))
		return set, Accepted
	default:
		set.Int = value.Int
		if value.Int < x.Syntax.Min || value.Int > x.Syntax.Max {
			return set, WrongValue
		}
		return set, Accepted
	}
}

// acceptText checks a DisplayString, which is of ASCII (RFC 2579).
func (x *Variable) acceptText(s []byte) Refusal {
	if int64(len(s)) > x.Syntax.Max {
		return WrongLength
	}
	for _, c := range s {
		if c >= 0x80 {
			return WrongValue
		}
	}
	return Accepted
}

// testKind is the well-known test that oid identifies, or 0.
func testKind(oid ber.OID) snap.TestKind {
	for i, id := range tests {
		if i > 0 && id.OID.Equal(oid) {
			return snap.TestKind(i)
		}
	}
	return 0
}
