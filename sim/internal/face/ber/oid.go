package ber

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// MaxArcs is the greatest number of sub-identifiers of an object identifier
// (RFC 2578 section 3.5).
const MaxArcs = 128

// OID is an object identifier, one element for each arc.
type OID []uint32

// ErrOIDText is the reason of every failure of [ParseOID].
var ErrOIDText = errors.New("ber: not an object identifier")

// ParseOID reads dotted decimal notation, with or without a leading dot.
func ParseOID(text string) (OID, error) {
	parts := strings.Split(strings.TrimPrefix(text, "."), ".")
	if len(parts) < 2 || len(parts) > MaxArcs {
		return nil, fmt.Errorf("%w: %q has %d arcs", ErrOIDText, text, len(parts))
	}
	oid := make(OID, len(parts))
	for i, p := range parts {
		n, err := strconv.ParseUint(p, 10, 32)
		if err != nil {
			return nil, fmt.Errorf("%w: %q: arc %q", ErrOIDText, text, p)
		}
		oid[i] = uint32(n)
	}
	if oid[0] > 2 || oid[0] < 2 && oid[1] > 39 {
		return nil, fmt.Errorf("%w: %q does not start as one", ErrOIDText, text)
	}
	return oid, nil
}

// MustOID is ParseOID for constants: it panics where that fails.
func MustOID(text string) OID {
	oid, err := ParseOID(text)
	if err != nil {
		panic(err.Error())
	}
	return oid
}

// String is o in dotted decimal notation.
func (o OID) String() string {
	b := make([]byte, 0, 4*len(o))
	for i, arc := range o {
		if i > 0 {
			b = append(b, '.')
		}
		b = strconv.AppendUint(b, uint64(arc), 10)
	}
	return string(b)
}

// Compare orders identifiers as SNMP does: arc by arc, a prefix first. The
// order of the encoded bytes is another one.
func (o OID) Compare(p OID) int {
	for i := range min(len(o), len(p)) {
		if o[i] != p[i] {
			return cmp.Compare(o[i], p[i])
		}
	}
	return cmp.Compare(len(o), len(p))
}

// Equal says whether o and p are the same identifier.
func (o OID) Equal(p OID) bool { return slices.Equal(o, p) }

// HasPrefix says whether p is o or names a node above it.
func (o OID) HasPrefix(p OID) bool { return len(o) >= len(p) && slices.Equal(o[:len(p)], p) }

// Child is a new identifier: o with more arcs behind it.
func (o OID) Child(arcs ...uint32) OID { return append(slices.Clip(slices.Clone(o)), arcs...) }
