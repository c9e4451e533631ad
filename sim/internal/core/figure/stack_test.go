package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
)

func stack() *Stack {
	return &Stack{
		Until: 3600,
		Bands: []Band{{"db <one>", []Span{{0, "running", Calm}, {600, "stopping & more", Busy}, {1800, "cut", Bad}}}},
		Panels: []Panel{{Label: "charge, %", Min: 0, Max: 100, Series: []Series{
			{Name: "true", Points: []XY{{0, 100}, {600, 90}, {700, Unknown}, {800, 80}, {3600, 20}}},
		}}},
		Marks: []float64{600},
	}
}

// TestStackIsWellFormed: as an element of a page, with names escaped, the same twice.
func TestStackIsWellFormed(t *testing.T) {
	text, err := stack().Inline()
	if err != nil {
		t.Fatal(err)
	}
	if again, _ := stack().Inline(); again != text {
		t.Error("two drawings differ")
	}
	if !strings.HasPrefix(text, "<svg") || strings.Contains(text, "<one>") {
		t.Errorf("it begins with %.40s", text)
	}
	for d := xml.NewDecoder(strings.NewReader(text)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// TestStackBreaksLines where nothing is known: one more element than without the gap.
func TestStackBreaksLines(t *testing.T) {
	whole := stack()
	whole.Panels[0].Series[0].Points[2].Y = 85
	a, _ := stack().Inline()
	b, _ := whole.Inline()
	if strings.Count(a, "<path") != strings.Count(b, "<path")+1 {
		t.Errorf("%d paths with a gap, %d without", strings.Count(a, "<path"), strings.Count(b, "<path"))
	}
}

// TestStackAsPicture is a PNG too.
func TestStackAsPicture(t *testing.T) {
	var b bytes.Buffer
	if err := stack().Write(&b, PNG); err != nil || !bytes.HasPrefix(b.Bytes(), []byte("\x89PNG")) {
		t.Errorf("%v, %d bytes", err, b.Len())
	}
	if err := stack().Write(&b, "gif"); err == nil {
		t.Error("it writes what it does not know")
	}
}

// TestTicks are at most eleven, at times that people count in.
func TestTicks(t *testing.T) {
	for until, want := range map[float64]string{60: "0:00:10", 2400: "0:05", 5400: "0:10", 86400: "4:00", 691200: "24:00"} {
		s := Stack{Until: until}
		ticks := s.ticks()
		if len(ticks) > 11 || ticks[1].Text != want {
			t.Errorf("%v s: %d ticks, the second is %s, want %s", until, len(ticks), ticks[1].Text, want)
		}
	}
}
