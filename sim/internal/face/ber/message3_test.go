package ber

import (
	"encoding/hex"
	"errors"
	"strings"
	"testing"
)

// head3 is a message of SNMPv3 that asks for discovery, worked out by hand after
// RFC 3412 section 6.
const head3 = "303e 020103 3011 02047fffffff 020300ffe3 040104 020103 0410 300e 0400 020100 020100 0400 0400 0400" +
	"3014 0400 0400 a00e 020400c0ffee 020100 020100 3000"

func unhex3(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestV3Message(t *testing.T) {
	var m V3Message
	if err := m.Decode(unhex3(t, head3)); err != nil {
		t.Fatal(err)
	}
	if m.ID != 1<<31-1 || m.MaxSize != 0xffe3 || m.Flags != FlagReportable || m.Model != 3 || len(m.Security) != 16 || m.Cipher != nil {
		t.Errorf("%+v", m)
	}
	var s Scope
	var p PDU
	if err := DecodeScoped(m.Plain, &s, &p); err != nil || p.Type != GetRequest || p.RequestID != 0xc0ffee {
		t.Errorf("%v, %+v", err, p)
	}
	for _, tt := range []struct {
		name, old, new string
		want           error
	}{
		{"version", "020103 3011", "020101 3011", ErrVersion},
		{"negative id", "02047fffffff", "0204ffffffff", ErrRange},
		{"least size", "020300ffe3", "0203 0001e4", nil},
		{"small size", "020300ffe3", "0203 0001e3", ErrRange},
		{"no flags", "040104 020103 0410 300e", "0400 02020003 0410 300e", ErrRange},
		{"model 0", "040104 020103", "040104 020100", ErrRange},
		{"flags of another type", "040104", "020104", ErrTag},
		{"encrypted", "3014 0400 0400", "0414 0400 0400", nil},
		{"neither plain nor encrypted", "3014 0400 0400", "0214 0400 0400", ErrTag},
	} {
		if got := m.Decode(unhex3(t, strings.Replace(head3, tt.old, tt.new, 1))); !errors.Is(got, tt.want) {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
	whole := unhex3(t, head3)
	for n := range whole {
		if m.Decode(whole[:n]) == nil {
			t.Errorf("the first %d octets were taken for a message", n)
		}
	}
}

// FuzzV3Message: nothing panics, and what decodes is within its bounds.
func FuzzV3Message(f *testing.F) {
	f.Add(unhex3(f, head3))
	f.Fuzz(func(t *testing.T, b []byte) {
		var m V3Message
		if m.Decode(b) != nil {
			return
		}
		if m.ID < 0 || m.MaxSize < 484 || m.Model < 1 || (m.Plain == nil) == (m.Cipher == nil) {
			t.Errorf("%+v", m)
		}
		var s Scope
		var p PDU
		_ = DecodeScoped(m.Plain, &s, &p)
	})
}
