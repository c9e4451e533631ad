package image

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
)

const model = "Example card"

func release() *snap.Release {
	return &snap.Release{
		Model: model, Version: "2.0", Note: "For a test.", Resets: "settings", BootMs: 90_000,
		Quirks:   []snap.ReleaseQuirk{{Name: "scaled-down", Objects: []string{"upsBatteryVoltage"}}, {Name: "stale", Off: true}},
		Settings: []snap.ReleaseSetting{{Path: "reach.mode", Value: "dhcp"}, {Path: "access.write-community"}},
	}
}

func made(t *testing.T, r *snap.Release, code int) []byte {
	t.Helper()
	b, err := Make(r, code, Key(7))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestReadsWhatItMade(t *testing.T) {
	b := made(t, release(), 1000)
	img, err := Read(b, Public(7), model)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(release(), img.Release); diff != "" {
		t.Error(diff)
	}
	if again := made(t, release(), 1000); !bytes.Equal(b, again) || len(img.Digest) != 64 {
		t.Errorf("another image of the same; digest %q", img.Digest)
	}
}

// TestFaults: each faulty image is refused for its own reason, but for the one whose
// fault shows only when it runs.
func TestFaults(t *testing.T) {
	reasons := map[string]string{
		"wrong-signature": "signature is not that of", "garbled": "signature is not that of",
		"truncated": "61 %", "other-model": "is for the model", "fails-test": "",
	}
	for _, fault := range Faults() {
		b, err := Spoiled(fault, release(), Code, Key(7))
		if err != nil {
			t.Fatal(err)
		}
		img, err := Read(b, Public(7), model)
		want := reasons[fault]
		switch {
		case want == "" && (err != nil || !img.Release.FailTest):
			t.Errorf("%s: %v", fault, err)
		case want != "" && (err == nil || !strings.Contains(err.Error(), want)):
			t.Errorf("%s: %v, want %q", fault, err, want)
		}
	}
	if _, err := Spoiled("burnt", release(), Code, Key(7)); err == nil {
		t.Error("made an image with a fault that there is not")
	}
}

// TestEveryOctetCounts: neither a shorter image nor one with any bit changed is taken.
func TestEveryOctetCounts(t *testing.T) {
	b := made(t, release(), 40)
	for n := range b {
		if _, err := Read(b[:n], Public(7), model); err == nil {
			t.Fatalf("took %d of %d octets", n, len(b))
		} else if n >= head && !errors.Is(err, ErrTruncated) {
			t.Fatalf("%d octets: %v", n, err)
		}
		other := bytes.Clone(b)
		other[n] ^= 1 << (n % 8)
		if _, err := Read(other, Public(7), model); err == nil {
			t.Fatalf("took it with octet %d changed", n)
		}
	}
	if _, err := Read(append(b, 0), Public(7), model); err == nil || !strings.Contains(err.Error(), "follow") {
		t.Error(err)
	}
}

// TestNothingIsBelieved: sizes that an image claims cost nothing.
func TestNothingIsBelieved(t *testing.T) {
	b := made(t, release(), 10)
	huge := bytes.Clone(b)
	binary.BigEndian.PutUint32(huge[len(mark)+8:], 1<<32-1)
	for name, x := range map[string]struct {
		b    []byte
		want string
	}{
		"empty":       {nil, "nothing arrived"},
		"text":        {[]byte("hello, card"), "no image"},
		"huge claim":  {huge, "claims"},
		"large":       {make([]byte, MaxSize+1), "no image has so many"},
		"later":       {append([]byte(mark), 0, 0, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0), "format is 2"},
		"only a mark": {[]byte(mark), "first 20 octets"},
	} {
		if _, err := Read(x.b, Public(7), model); err == nil || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v, want %q", name, err, x.want)
		}
	}
	if _, err := Read(b, "", model); err == nil {
		t.Error("a card without a key took an image")
	}
	if _, err := Read(b, Public(8), model); err == nil {
		t.Error("took an image of another scenario")
	}
}

// TestCheck: a release says nothing that a card could not take.
func TestCheck(t *testing.T) {
	for name, spoil := range map[string]func(*snap.Release){
		"no version": func(r *snap.Release) { r.Version = "" },
		"control":    func(r *snap.Release) { r.Version = "2\x1b[2J" },
		"long":       func(r *snap.Release) { r.Version = strings.Repeat("9", 32) },
		"no model":   func(r *snap.Release) { r.Model = "" },
		"long note":  func(r *snap.Release) { r.Note = strings.Repeat("a", 201) },
		"resets":     func(r *snap.Release) { r.Resets = "all" },
		"boot":       func(r *snap.Release) { r.BootMs = -1 },
		"quirk":      func(r *snap.Release) { r.Quirks[0].Name = "odd" },
		"twice":      func(r *snap.Release) { r.Quirks[1] = r.Quirks[0] },
		"object":     func(r *snap.Release) { r.Quirks[0].Objects = []string{"upsOutputSource"} },
		"no object":  func(r *snap.Release) { r.Quirks[0].Objects = nil },
		"alarm": func(r *snap.Release) {
			r.Quirks[0] = snap.ReleaseQuirk{Name: "unlisted-alarms", Alarms: []string{"none"}}
		},
		"count":         func(r *snap.Release) { r.Quirks[0] = snap.ReleaseQuirk{Name: "padded-alarms", Count: 65} },
		"path":          func(r *snap.Release) { r.Settings[0].Path = "reach.nothing" },
		"secret":        func(r *snap.Release) { r.Settings[1].Value = "open-to-all" },
		"long value":    func(r *snap.Release) { r.Settings[0].Value = strings.Repeat("a", 256) },
		"many settings": func(r *snap.Release) { r.Settings = make([]snap.ReleaseSetting, 65) },
	} {
		r := release()
		spoil(r)
		if err := Check(r); err == nil {
			t.Errorf("%s: nothing is wrong with it", name)
		} else if strings.Contains(err.Error(), "open-to-all") {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := Make(r, 10, Key(7)); err == nil {
			t.Errorf("%s: made an image", name)
		}
	}
}

// FuzzRead: whatever arrives, it is refused in one line or is what its maker made.
func FuzzRead(f *testing.F) {
	for _, fault := range append(Faults(), "") {
		b, err := Spoiled(fault, release(), 100, Key(7))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		img, err := Read(b, Public(7), model)
		switch {
		case err != nil && strings.ContainsAny(err.Error(), "\n\x1b"):
			t.Errorf("%q", err)
		case err == nil && Check(img.Release) != nil:
			t.Error("took what does not check")
		}
	})
}

// FuzzDescribe: a description that anybody could have signed.
func FuzzDescribe(f *testing.F) {
	text, _ := json.Marshal(release())
	f.Add(text)
	f.Add([]byte(`{"model":"a","version":"b","quirks":[{"name":"frozen","objects":[]}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := describe(b)
		if err != nil {
			return
		}
		again, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := describe(again); err != nil {
			t.Errorf("%s: %v", again, err)
		}
	})
}
