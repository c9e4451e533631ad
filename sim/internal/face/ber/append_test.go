package ber

import (
	"bytes"
	"encoding/asn1"
	"errors"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
)

// The standard library's DER encoder, which shares nothing with ours, is the
// second opinion on lengths, integers and identifiers.

func TestAppendIntLikeDER(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Int64().Draw(t, "v")
		want, err := asn1.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		if got := AppendInt(nil, Integer, v); !bytes.Equal(got, want) {
			t.Fatalf("%d: got %x, want %x", v, got, want)
		}
	})
}

func TestAppendUint64LikeDER(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Uint64().Draw(t, "v")
		want, err := asn1.Marshal(new(big.Int).SetUint64(v))
		if err != nil {
			t.Fatal(err)
		}
		if got := AppendUint64(nil, Integer, v); !bytes.Equal(got, want) {
			t.Fatalf("%d: got %x, want %x", v, got, want)
		}
	})
}

func TestAppendOIDLikeDER(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		arcs := rapid.SliceOfN(rapid.Uint32Max(1<<31-1), 0, 20).Draw(t, "arcs")
		oid := append(OID{1, 3}, arcs...)
		id := asn1.ObjectIdentifier{}
		for _, arc := range oid {
			id = append(id, int(arc))
		}
		want, err := asn1.Marshal(id)
		if err != nil {
			t.Fatal(err)
		}
		cut := rapid.IntRange(2, len(oid)).Draw(t, "cut")
		if got := AppendOID(nil, oid[:cut], oid[cut:]...); !bytes.Equal(got, want) {
			t.Fatalf("%v: got %x, want %x", oid, got, want)
		}
	})
}

func TestCloseLikeDER(t *testing.T) {
	for _, n := range []int{0, 1, 127, 128, 255, 256, 65535, 65536} {
		content := bytes.Repeat([]byte{7}, n)
		want, err := asn1.Marshal(content)
		if err != nil {
			t.Fatal(err)
		}
		if got := AppendString([]byte("kept"), OctetString, content); !bytes.Equal(got[4:], want) || string(got[:4]) != "kept" {
			t.Errorf("%d octets: starts %x, want %x", n, got[:10], want[:min(6, len(want))])
		}
	}
}

func TestOIDText(t *testing.T) {
	for _, text := range []string{"0.0", "1.3.6.1.2.1.33", "2.999.4294967295"} {
		for _, in := range []string{text, "." + text} {
			oid, err := ParseOID(in)
			if err != nil || oid.String() != text {
				t.Errorf("ParseOID(%q) is %v, %v", in, oid, err)
			}
		}
	}
	for _, text := range []string{"", ".", "1", "1.", "1..3", "3.1", "1.40", "1.3.4294967296", "1.3.-1", "1.3.x"} {
		if oid, err := ParseOID(text); !errors.Is(err, ErrOIDText) {
			t.Errorf("ParseOID(%q) is %v, %v", text, oid, err)
		}
	}
}

func TestOIDOrder(t *testing.T) {
	// 128 encodes as 81 00 and would sort before 127 if bytes were compared.
	sorted := []OID{{1}, {1, 3}, {1, 3, 0}, {1, 3, 127}, {1, 3, 128}, {1, 3, 128, 1}, {1, 4}, {2}}
	for i, a := range sorted {
		for j, b := range sorted {
			if got, want := a.Compare(b) < 0, i < j; got != want {
				t.Errorf("%v before %v: %v", a, b, got)
			}
			if a.Equal(b) != (i == j) {
				t.Errorf("%v equals %v: %v", a, b, a.Equal(b))
			}
		}
	}
	parent := OID{1, 3}
	child := parent.Child(6, 1)
	if !child.HasPrefix(parent) || parent.HasPrefix(child) || child.HasPrefix(OID{1, 4}) {
		t.Error("HasPrefix is wrong")
	}
	if !slices.Equal(parent, OID{1, 3}) {
		t.Error("Child changed its parent")
	}
}

// TestAppendChild: a name made of its head is the name that is encoded whole.
func TestAppendChild(t *testing.T) {
	for _, oid := range []OID{{1, 3}, {1, 3, 6, 1, 4, 1, 32473}, {2, 999, 3}, make(OID, 127), append(make(OID, 100), 1<<31, 1<<28)} {
		for _, arc := range []uint32{0, 1, 127, 128, 300, 1<<32 - 1} {
			if got, want := AppendChild([]byte{9}, Head(oid), arc), AppendOID([]byte{9}, oid, arc); !bytes.Equal(got, want) {
				t.Errorf("%v.%d: %x, want %x", oid, arc, got, want)
			}
		}
	}
}
