package record

import (
	"bytes"
	"net/netip"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/face/ber"
)

// valueOf is a value of gosnmp's as ours. What it could not decode is none. Octets
// are copied: gosnmp reads the next reply into the same place.
func valueOf(v *gosnmp.SnmpPDU) (ber.Value, bool) {
	out := ber.Value{Tag: ber.Tag(v.Type)}
	switch x := v.Value.(type) {
	case nil:
		return out, v.Type == gosnmp.Null
	case []byte:
		out.Bytes = bytes.Clone(x)
		return out, v.Type == gosnmp.OctetString || v.Type == gosnmp.Opaque
	case string:
		return textOf(out, x)
	}
	n := gosnmp.ToBigInt(v.Value)
	switch out.Tag {
	case ber.Integer:
		out.Int = n.Int64()
		return out, n.IsInt64() && out.Int == int64(int32(out.Int))
	case ber.Counter32, ber.Gauge32, ber.TimeTicks:
		out.Int = n.Int64()
		return out, n.IsUint64() && n.Uint64() <= 1<<32-1
	case ber.Counter64:
		out.Int = int64(n.Uint64())
		return out, n.IsUint64()
	}
	return out, false
}

func textOf(v ber.Value, text string) (ber.Value, bool) {
	switch v.Tag {
	case ber.ObjectID:
		oid, err := ber.ParseOID(text)
		v.OID = oid
		return v, err == nil
	case ber.IPAddress:
		a, err := netip.ParseAddr(text)
		v.Bytes = a.AsSlice()
		return v, err == nil && a.Is4()
	}
	return v, false
}
