package figure

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
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

// TestStackOfManyChanges: a state that changes ten thousand times takes no more room than
// the paper has, and neither does a line; the worst state and the extremes stay.
func TestStackOfManyChanges(t *testing.T) {
	s := stack()
	const n = 10_000
	s.Bands[0].Spans, s.Panels[0].Series[0].Points = nil, nil
	for i := range n {
		at := s.Until * float64(i) / n
		tone, y := Blank, 50.0
		switch {
		case i == 5001:
			tone, y = Bad, 99
		case i%2 == 1:
			tone, y = Calm, 40
		}
		s.Bands[0].Spans = append(s.Bands[0].Spans, Span{at, "x", tone})
		s.Panels[0].Series[0].Points = append(s.Panels[0].Series[0].Points, XY{at, y})
	}
	pieces := s.seen(s.Bands[0].Spans)
	worst := 0
	for i, p := range pieces {
		if i > 0 && p.from != pieces[i-1].to {
			t.Fatalf("a hole before piece %d", i)
		}
		switch {
		case p.Tone == Bad:
			worst++
		case p.Tone != Busy:
			t.Fatalf("piece %d, to and fro, looks like %v", i, p.Tone)
		}
	}
	if worst != 1 || len(pieces) > 2500 || pieces[0].from != s.at(0) || pieces[len(pieces)-1].to != s.at(s.Until) {
		t.Errorf("%d pieces, %d of them bad", len(pieces), worst)
	}
	var line []vg.Point
	for _, q := range s.Panels[0].Series[0].Points {
		line = append(line, vg.Point{X: s.at(q.X), Y: vg.Length(q.Y)})
	}
	few := visible(line)
	high := few[0].Y
	for _, p := range few {
		high = max(high, p.Y)
	}
	if len(few) > 7000 || high != 99 || few[0] != line[0] || few[len(few)-1] != line[n-1] {
		t.Errorf("%d points, the highest %v", len(few), high)
	}
	if text, err := s.Inline(); err != nil || len(text) > 700_000 {
		t.Errorf("%v, %d bytes", err, len(text))
	}
}

// TestStackOfFewChanges: what can be seen is drawn as it was.
func TestStackOfFewChanges(t *testing.T) {
	s := stack()
	if list := s.seen(s.Bands[0].Spans); len(list) != 3 || list[1].Text != "stopping & more" || list[1].mixed {
		t.Errorf("%+v", list)
	}
	line := []vg.Point{{X: 1, Y: 1}, {X: 1, Y: 5}, {X: 1, Y: 2}, {X: 1, Y: 3}, {X: 9, Y: 3}}
	if got := visible(line); len(got) != 5 {
		t.Errorf("%v", got)
	}
}
