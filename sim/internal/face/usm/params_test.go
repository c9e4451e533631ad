package usm

import (
	"testing"

	"ridethrough/sim/internal/face/ber"
)

func TestEngineID(t *testing.T) {
	// 32473 is 0x7ed9 (RFC 5612); the first bit says that a format follows (RFC 3411).
	if got, want := EngineID("S-1"), "\x80\x00\x7e\xd9\x04S-1"; got != want {
		t.Errorf("%x, want %x", got, want)
	}
	long := "0123456789012345678901234567890"
	if id := EngineID(long); len(id) != MaxEngineID || id[4] != formatOctets || id == EngineID(long+"1") {
		t.Errorf("%x", id)
	}
	if id := EngineID(long[:27]); id != "\x80\x00\x7e\xd9\x04"+long[:27] {
		t.Errorf("%x", id)
	}
}

func TestWindow(t *testing.T) {
	for _, tt := range []struct {
		engineBoots, engineTime, boots, time int32
		want                                 bool
	}{
		{3, 1000, 3, 1000, true}, {3, 1000, 3, 850, true}, {3, 1000, 3, 849, false},
		{3, 1000, 3, 1150, true}, {3, 1000, 3, 1151, false},
		{3, 1000, 2, 1000, false}, {3, 1000, 4, 1000, false},
		{MaxCount, 1000, MaxCount, 1000, false}, {1, 0, 1, MaxCount, false}, {1, MaxCount, 1, 0, false},
	} {
		if got := InWindow(tt.engineBoots, tt.engineTime, tt.boots, tt.time); got != tt.want {
			t.Errorf("%+v: got %v", tt, got)
		}
	}
}

func TestParams(t *testing.T) {
	p := Params{EngineID: []byte("engine"), Boots: 5, Time: 70000, User: []byte("anna"), Auth: make([]byte, 12), Priv: []byte("saltsalt")}
	out, fromEnd := p.Append([]byte{0xff})
	copy(out[len(out)-fromEnd:], "authenticate")
	r := ber.NewReader(out[1:])
	content, err := r.Expect(ber.OctetString)
	if err != nil || r.End() != nil {
		t.Fatal(err)
	}
	var got Params
	if err := got.Decode(content); err != nil {
		t.Fatal(err)
	}
	if string(got.EngineID) != "engine" || got.Boots != 5 || got.Time != 70000 || string(got.User) != "anna" ||
		string(got.Auth) != "authenticate" || string(got.Priv) != "saltsalt" {
		t.Errorf("%+v", got)
	}
}

// FuzzParams: nothing panics, and what decodes is within its bounds.
func FuzzParams(f *testing.F) {
	for _, p := range []Params{{}, {EngineID: []byte("engine"), Boots: 1, Time: 2, User: []byte("anna"), Auth: make([]byte, 12), Priv: make([]byte, 8)}} {
		out, _ := p.Append(nil)
		f.Add(out[2:])
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var p Params
		if p.Decode(b) == nil && (p.Boots < 0 || p.Time < 0 || len(p.User) > MaxUserName) {
			t.Errorf("%+v", p)
		}
	})
}
