package card

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
)

func memoryOf(k *snap.Keep) *snap.Memory { return &snap.Memory{Sections: k.Sections} }

func TestFleetBoots(t *testing.T) {
	boots := FleetBoots(nil).Raise(1, 3).Raise(2, 2).Raise(7, 1)
	want := FleetBoots{1, 2, 2, 0, 0, 0, 1}
	text := string(boots.Keep().Sections[BootsSection])
	if text != `[{"first":1,"last":1,"boots":1},{"first":2,"last":3,"boots":2},{"first":7,"last":7,"boots":1}]` {
		t.Error(text)
	}
	got, err := BootsIn(memoryOf(boots.Keep()))
	if err != nil || !slices.Equal(got, want) || !slices.Equal(boots, want) {
		t.Errorf("%v of %v, %v", got, boots, err)
	}
	if got.Of(3) != 2 || got.Of(4) != 0 || got.Of(8) != 0 {
		t.Errorf("%d, %d and %d", got.Of(3), got.Of(4), got.Of(8))
	}
	if got, err := BootsIn(nil); got != nil || err != nil {
		t.Errorf("%v, %v out of nothing", got, err)
	}
}

// TestBootsStayAtTheirMost: RFC 3414 section 2.2.
func TestBootsStayAtTheirMost(t *testing.T) {
	boots := FleetBoots{1<<31 - 2}
	for range 2 {
		boots = boots.Raise(1, 1)
	}
	if boots[0] != 1<<31-1 {
		t.Error(boots[0])
	}
}

func TestDamagedBoots(t *testing.T) {
	for text, part := range map[string]string{
		`{}`:                                        "cannot unmarshal",
		`[{"first":1,"last":2,"boot":3}]`:           "unknown field",
		`[{"first":0,"last":2,"boots":3}]`:          "devices 0 to 2",
		`[{"first":2,"last":1,"boots":3}]`:          "devices 2 to 1",
		`[{"first":1,"last":65536,"boots":3}]`:      "devices 1 to 65536",
		`[{"first":1,"last":1,"boots":2147483648}]`: "2147483648 boots",
		`[{"first":1,"last":9,"boots":1},{"first":9,"last":9,"boots":1}]`:             "after device 9",
		`[{"first":1,"last":9,"boots":1},{"first":10,"last":9,"boots":1}] {"more":1}`: "more than one value",
	} {
		_, err := BootsIn(&snap.Memory{Sections: map[string]json.RawMessage{BootsSection: json.RawMessage(text)}})
		if err == nil || !strings.Contains(err.Error(), part) || !strings.Contains(err.Error(), "section fleet-boots: ") {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// FuzzBootsIn: whatever is in the file, it is refused or comes out as it went in.
func FuzzBootsIn(f *testing.F) {
	f.Add([]byte(`[{"first":1,"last":9,"boots":1},{"first":12,"last":12,"boots":4}]`))
	f.Add([]byte(`[{"first":65535,"last":65535,"boots":2147483647}]`))
	f.Fuzz(func(t *testing.T, text []byte) {
		boots, err := BootsIn(&snap.Memory{Sections: map[string]json.RawMessage{BootsSection: text}})
		if err != nil {
			return
		}
		again, err := BootsIn(memoryOf(boots.Keep()))
		for n := range boots {
			if err != nil || again.Of(n+1) != boots[n] {
				t.Fatalf("device %d: %d became %d, %v", n+1, boots[n], again.Of(n+1), err)
			}
		}
	})
}
