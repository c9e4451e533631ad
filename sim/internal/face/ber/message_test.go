package ber

import (
	"bytes"
	"encoding/hex"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// octets reads hex digits; spaces are for the reader.
func octets(t testing.TB, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.Join(strings.Fields(text), ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// request wraps a PDU given in hex into a v2c message of community "public".
func request(t testing.TB, pdu string) []byte {
	b, mark := Open(nil, Sequence)
	b = AppendInt(b, Integer, V2c)
	b = AppendString(b, OctetString, "public")
	return Close(append(b, octets(t, pdu)...), mark)
}

// encode is the message that decodes to m; it is the slow twin of Decode.
func encode(m *Message) []byte {
	b, message := Open(nil, Sequence)
	b = AppendInt(b, Integer, int64(m.Version))
	b = AppendString(b, OctetString, m.Community)
	b, pdu := Open(b, m.PDU.Type)
	for _, v := range []int32{m.PDU.RequestID, m.PDU.Status, m.PDU.Index} {
		b = AppendInt(b, Integer, int64(v))
	}
	b, list := Open(b, Sequence)
	for _, vb := range m.PDU.VarBinds {
		var mark int
		b, mark = Open(b, Sequence)
		b = encodeValue(AppendOID(b, vb.Name), vb.Value)
		b = Close(b, mark)
	}
	return Close(Close(Close(b, list), pdu), message)
}

func encodeValue(b []byte, v Value) []byte {
	switch v.Tag {
	case ObjectID:
		return AppendOID(b, v.OID)
	case OctetString, Opaque, IPAddress:
		return AppendString(b, v.Tag, v.Bytes)
	case Counter64:
		return AppendUint64(b, v.Tag, uint64(v.Int))
	case Integer, Counter32, Gauge32, TimeTicks:
		return AppendInt(b, v.Tag, v.Int)
	default:
		return AppendEmpty(b, v.Tag)
	}
}

func TestDecodeMessage(t *testing.T) {
	// A GetRequest for sysDescr.0, encoded by hand after X.690 and RFC 3416.
	b := octets(t, `30 29 02 01 01 04 06 7075626c6963
		a0 1c 02 04 8000 0001 02 01 00 02 01 00
		30 0e 30 0c 06 08 2b 06 01 02 01 01 01 00 05 00`)
	var m Message
	if err := m.Decode(b); err != nil {
		t.Fatal(err)
	}
	want := Message{Version: V2c, Community: []byte("public"), PDU: PDU{
		Type: GetRequest, RequestID: -2147483647,
		VarBinds: []VarBind{{Name: MustOID("1.3.6.1.2.1.1.1.0"), Value: Value{Tag: Null}}},
		Raw:      octets(t, "30 0c 06 08 2b 06 01 02 01 01 01 00 05 00"),
	}}
	opts := cmp.Options{cmpopts.IgnoreUnexported(PDU{}), cmpopts.EquateEmpty()}
	if diff := cmp.Diff(want, m, opts); diff != "" {
		t.Error(diff)
	}
	if got := encode(&m); !bytes.Equal(got, b) {
		t.Errorf("encoded again:\n got %x\nwant %x", got, b)
	}
}

func TestDecodeReuse(t *testing.T) {
	long := request(t, "a1 29 0201 01 0201 00 0201 00 30 1e 300d 06092b0601020101018f0005 00 300d 06092b0601020101028f00 0500")
	short := request(t, "a0 0b 0201 07 0201 00 0201 00 3000")
	var m Message
	for range 3 {
		if err := m.Decode(long); err != nil || len(m.PDU.VarBinds) != 2 {
			t.Fatalf("long: %v, %d variables", err, len(m.PDU.VarBinds))
		}
		if got := m.PDU.VarBinds[1].Name.String(); got != "1.3.6.1.2.1.1.2.1920" {
			t.Errorf("second name is %s", got)
		}
		if err := m.Decode(short); err != nil || len(m.PDU.VarBinds) != 0 || m.PDU.RequestID != 7 {
			t.Fatalf("short: %v, %+v", err, m.PDU)
		}
	}
	if n := testing.AllocsPerRun(100, func() { m.Decode(long) }); n != 0 {
		t.Errorf("Decode allocates %v times", n)
	}
}

func TestDecodeRefuses(t *testing.T) {
	const ids = "0201 01 0201 00 0201 00"
	tests := []struct {
		name, message, pdu string // one of the two
		want               error
	}{
		{name: "nothing", message: "", want: ErrTruncated},
		{name: "half a head", message: "30", want: ErrTruncated},
		{name: "indefinite length", message: "3080 020101 0000", want: ErrLength},
		{name: "length of five octets", message: "3085 0000000003 020101", want: ErrLength},
		{name: "length reserved", message: "30ff", want: ErrLength},
		{name: "length ends early", message: "308201", want: ErrTruncated},
		{name: "declared one too long", message: "3004 020101", want: ErrLength},
		{name: "declared four gigabytes", message: "3084ffffffff 020101", want: ErrLength},
		{name: "bytes behind", message: "3003 020101 00", want: ErrTrailing},
		{name: "not a sequence", message: "3103 020101", want: ErrTag},
		{name: "tag of two octets", message: "3f8103 020101", want: ErrTag},
		{name: "version 3", message: "3003 020103", want: ErrVersion},
		{name: "version 257", message: "3004 02020101", want: ErrVersion},
		{name: "version of 5 octets", message: "3007 02050000000001", want: ErrRange},
		{name: "version empty", message: "3002 0200", want: ErrRange},
		{name: "community missing", message: "3003 020101", want: ErrTruncated},
		{name: "community reaches out", message: "3008 020101 0407 414141", want: ErrLength},
		{name: "no PDU", message: "3006 020101 040141", want: ErrTruncated},
		{name: "unknown PDU", message: "3008 020101 040141 a900", want: ErrTag},
		{name: "PDU too many", message: "300a 020101 040141 a400 0500", want: ErrTrailing},

		{name: "request-id of 5 octets", pdu: "a0 0f 0205 0000000001 0201 00 0201 00 3000", want: ErrRange},
		{name: "request-id a string", pdu: "a0 0b 0401 01 0201 00 0201 00 3000", want: ErrTag},
		{name: "list reaches out", pdu: "a0 0b " + ids + "3001", want: ErrLength},
		{name: "behind the list", pdu: "a0 0d " + ids + "3000 0500", want: ErrTrailing},
		{name: "name a string", pdu: "a0 12 " + ids + "3007 3005 04012b 0500", want: ErrTag},
		{name: "name empty", pdu: "a0 11 " + ids + "3006 3004 0600 0500", want: ErrOID},
		{name: "name unfinished", pdu: "a0 13 " + ids + "3008 3006 06022b81 0500", want: ErrOID},
		{name: "name padded", pdu: "a0 14 " + ids + "3009 3007 06032b8001 0500", want: ErrOID},
		{name: "arc 2^32", pdu: "a0 17 " + ids + "300c 300a 06062b9080808000 0500", want: ErrOID},
		{name: "first arc 2^32+80", pdu: "a0 16 " + ids + "300b 3009 06059080808050 0500", want: ErrOID},
		{name: "value missing", pdu: "a0 10 " + ids + "3005 3003 06012b", want: ErrTruncated},
		{name: "value too many", pdu: "a0 14 " + ids + "3009 3007 06012b 0500 0500", want: ErrTrailing},
		{name: "value of no SNMP type", pdu: "a0 13 " + ids + "3008 3006 06012b 010101", want: ErrTag},
		{name: "NULL with content", pdu: "a0 13 " + ids + "3008 3006 06012b 050100", want: ErrRange},
		{name: "INTEGER of 40 bits", pdu: "a3 17 " + ids + "300c 300a 06012b 02050100000000", want: ErrRange},
		{name: "Counter32 negative", pdu: "a3 13 " + ids + "3008 3006 06012b 4101ff", want: ErrRange},
		{name: "TimeTicks 2^32", pdu: "a3 17 " + ids + "300c 300a 06012b 43050100000000", want: ErrRange},
		{name: "Counter64 of 9 octets", pdu: "a3 1b " + ids + "3010 300e 06012b 4609010000000000000000", want: ErrRange},
		{name: "IpAddress of 3 octets", pdu: "a3 15 " + ids + "300a 3008 06012b 4003c00002", want: ErrRange},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := octets(t, tt.message)
			if tt.pdu != "" {
				b = request(t, tt.pdu)
			}
			var m Message
			if err := m.Decode(b); !errors.Is(err, tt.want) {
				t.Errorf("got %v, want %v", err, tt.want)
			}
		})
	}
}

func TestDecodeValues(t *testing.T) {
	tests := []struct {
		name, value string
		want        Value
		canonical   bool // our encoding is the same
	}{
		{"least INTEGER", "020480000000", Value{Tag: Integer, Int: math.MinInt32}, true},
		{"greatest INTEGER", "02047fffffff", Value{Tag: Integer, Int: math.MaxInt32}, true},
		{"minus one", "0201ff", Value{Tag: Integer, Int: -1}, true},
		{"128 needs two octets", "02020080", Value{Tag: Integer, Int: 128}, true},
		{"minus 128 needs one", "020180", Value{Tag: Integer, Int: -128}, true},
		{"four octets for one", "020400000001", Value{Tag: Integer, Int: 1}, false},
		{"long length", "028200 0101", Value{Tag: Integer, Int: 1}, false},
		{"greatest Counter32", "410500ffffffff", Value{Tag: Counter32, Int: math.MaxUint32}, true},
		{"greatest Counter64", "460900ffffffffffffffff", Value{Tag: Counter64, Int: -1}, true},
		{"Counter64 2^63-1", "46087fffffffffffffff", Value{Tag: Counter64, Int: math.MaxInt64}, true},
		{"address", "4004c0000201", Value{Tag: IPAddress, Bytes: []byte{192, 0, 2, 1}}, true},
		{"opaque", "440141", Value{Tag: Opaque, Bytes: []byte("A")}, true},
		{"empty string", "0400", Value{Tag: OctetString}, true},
		{"0.0", "060100", Value{Tag: ObjectID, OID: OID{0, 0}}, true},
		{"2.999.3 of X.690 8.19", "0603883703", Value{Tag: ObjectID, OID: OID{2, 999, 3}}, true},
		{"greatest arcs", "060a 90 80 80 80 4f 8f ff ff ff 7f", Value{Tag: ObjectID, OID: OID{2, math.MaxUint32, math.MaxUint32}}, true},
		{"end of view", "8200", Value{Tag: EndOfMibView}, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			vb, mark := Open(nil, Sequence)
			vb = Close(append(AppendOID(vb, OID{1, 3}), octets(t, tt.value)...), mark)
			pdu, mark := Open(nil, Sequence)
			pdu = Close(append(pdu, vb...), mark)
			head := octets(t, "0201 01 0201 00 0201 00")
			outer, mark := Open(nil, SetRequest)
			outer = Close(append(append(outer, head...), pdu...), mark)

			var m Message
			if err := m.Decode(request(t, hex.EncodeToString(outer))); err != nil {
				t.Fatal(err)
			}
			got := m.PDU.VarBinds[0].Value
			if diff := cmp.Diff(tt.want, got, cmpopts.EquateEmpty()); diff != "" {
				t.Error(diff)
			}
			if again := encodeValue(nil, got); bytes.Equal(again, octets(t, tt.value)) != tt.canonical {
				t.Errorf("encoded again: %x", again)
			}
		})
	}
}

func TestDecodeBounds(t *testing.T) {
	message := func(n, arcs int) []byte {
		m := Message{Version: V1, Community: []byte("c"), PDU: PDU{Type: GetRequest}}
		for range n {
			m.PDU.VarBinds = append(m.PDU.VarBinds, VarBind{Name: make(OID, arcs), Value: Value{Tag: Null}})
		}
		return encode(&m)
	}
	tests := []struct {
		n, arcs int
		want    error
	}{
		{300, 9, nil},
		{MaxVarBinds, 9, nil},
		{MaxVarBinds + 1, 9, ErrTooMany},
		{1, MaxArcs, nil},
		{1, MaxArcs + 1, ErrOID},
	}
	for _, tt := range tests {
		var m Message
		if err := m.Decode(message(tt.n, tt.arcs)); !errors.Is(err, tt.want) {
			t.Errorf("%d variables of %d arcs: got %v, want %v", tt.n, tt.arcs, err, tt.want)
		}
	}
}

func TestDecodeTrapV1(t *testing.T) {
	var m Message
	if err := m.Decode(request(t, "a4 03 060100")); err != nil || m.PDU.Type != TrapV1 {
		t.Errorf("got %v, %#x", err, m.PDU.Type)
	}
}

// FuzzDecode holds that whatever is accepted survives our own encoding.
func FuzzDecode(f *testing.F) {
	f.Add(request(f, "a0 0b 0201 07 0201 00 0201 00 3000"))
	f.Add(request(f, "a5 19 0204 ffffffff 0201 00 0201 1e 300c 300a 06062b8fffffff7f 0500"))
	f.Add(request(f, "a3 14 0201 01 0201 00 0201 00 3009 3007 06012b 020200 80"))
	f.Add(octets(f, "3003 020103"))
	f.Fuzz(func(t *testing.T, b []byte) {
		var first, second Message
		if first.Decode(b) != nil || first.PDU.Type == TrapV1 {
			return
		}
		again := encode(&first)
		if err := second.Decode(again); err != nil {
			t.Fatalf("%x was accepted, its encoding %x is not: %v", b, again, err)
		}
		opts := cmp.Options{cmpopts.IgnoreUnexported(PDU{}), cmpopts.IgnoreFields(PDU{}, "Raw"), cmpopts.EquateEmpty()}
		if diff := cmp.Diff(first, second, opts); diff != "" {
			t.Errorf("%x: %s", b, diff)
		}
	})
}
