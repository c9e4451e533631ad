package figure_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/voltage"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/mains"
)

func TestSameChartSameBytes(t *testing.T) {
	for _, f := range []figure.Format{figure.SVG, figure.PNG} {
		first := written(t, variations(), f)
		if second := written(t, variations(), f); first != second {
			t.Errorf("two drawings as %s differ", f)
		}
	}
}

func TestEveryBlockIsDrawn(t *testing.T) {
	for _, b := range blocks.All() {
		svg := written(t, figure.Discharge(&b), figure.SVG)
		wellFormed(t, svg)
		if !strings.Contains(svg, b.Name) || !strings.Contains(svg, ">0.05 C<") || strings.Contains(svg, "NaN") {
			t.Errorf("%s: the drawing lacks its name or a rate, or has no numbers", b.Name)
		}
	}
}

func wellFormed(t *testing.T, text string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

func TestPNG(t *testing.T) {
	img, err := png.Decode(strings.NewReader(written(t, heat(), figure.PNG)))
	if err != nil {
		t.Fatal(err)
	}
	if b := img.Bounds(); b.Dx() < 1000 || b.Dy() < 600 {
		t.Errorf("the picture has %v", b)
	}
}

// The end of a drawn discharge is where the model says it is.
func TestDischargeEndsOnTime(t *testing.T) {
	b := block(t, "agm-12v-7ah")
	for _, s := range figure.Discharge(b).Series {
		end := s.Points[len(s.Points)-1]
		if math.Abs(end.Y-6*1.6) > 1e-3 {
			t.Errorf("a line ends at %v V", end.Y)
		}
		for i := 1; i < len(s.Points); i++ {
			if s.Points[i].X <= s.Points[i-1].X || s.Points[i].Y > s.Points[i-1].Y+1e-9 {
				t.Fatalf("from %v to %v", s.Points[i-1], s.Points[i])
			}
		}
	}
}

func TestFormatOf(t *testing.T) {
	for name, want := range map[string]bool{"a.svg": true, "b/c.PNG": true, "d.pdf": false, "svg": false, "": false} {
		if _, ok := figure.FormatOf(name); ok != want {
			t.Errorf("%q: %v", name, ok)
		}
	}
	c := heat()
	if err := c.Write(io.Discard, "pdf"); err == nil {
		t.Error("a format that nobody knows is written")
	}
}

// Whatever happens to the supply can be drawn, with every point on the paper.
func TestAnyVariationIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []voltage.Variation
		for range rapid.IntRange(0, 15).Draw(t, "number") {
			v := voltage.Variation{
				Start: vtime.Tick(rapid.Int64Range(0, 1e9).Draw(t, "start")),
				Share: rapid.Float64Range(0, 4).Draw(t, "share"), Open: rapid.Bool().Draw(t, "open"),
			}
			v.End = v.Start + vtime.Tick(rapid.Int64Range(1, 1e8).Draw(t, "length"))
			v.Class, v.Rides = mains.Classify(v.Share, v.Seconds(), 50), mains.Ride(v.Share, v.Seconds())
			list = append(list, v)
		}
		c := figure.ITI("any", list, 50)
		for _, s := range c.Series {
			for _, q := range s.Points {
				if q.X < c.X.Min || q.X > c.X.Max || q.Y < c.Y.Min || q.Y > c.Y.Max {
					t.Fatalf("%s: %v lies outside of %v, %v", s.Name, q, c.X, c.Y)
				}
			}
		}
		var b bytes.Buffer
		if err := c.Write(&b, figure.SVG); err != nil {
			t.Fatal(err)
		}
	})
}

// TestNumbersDoNotOverlap: variations that lie on each other share one label.
func TestNumbersDoNotOverlap(t *testing.T) {
	var list []voltage.Variation
	for i := range 7 {
		list = append(list, voltage.Variation{Start: vtime.Minute, End: vtime.Minute + 500 + vtime.Tick(i), Share: 0.4})
	}
	list = append(list, voltage.Variation{End: 2000, Share: 0.4}, voltage.Variation{End: 500, Share: 0.7})
	var got []string
	for _, l := range figure.ITI("t", list, 50).Labels {
		if !l.Below {
			got = append(got, l.Text)
		}
	}
	if want := []string{"1, 2, 3, 4, +3", "8", "9"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestTextKeepsItsWidth: in whatever letters a viewer has, a text is as wide as it
// was measured. Half of an em is about right for most of them.
func TestTextKeepsItsWidth(t *testing.T) {
	svg := written(t, discharge(t, "agm-12v-7ah"), figure.SVG)
	texts := strings.Count(svg, "<text ")
	widths := regexp.MustCompile(`font-size:12px"\s+textLength="([0-9.]+)"[^>]*>agm-12v-7ah: discharge at constant current<`).FindStringSubmatch(svg)
	if strings.Count(svg, "textLength=") != texts || texts < 20 || widths == nil {
		t.Fatalf("%d texts, %d with a width; title %q", texts, strings.Count(svg, "textLength="), widths)
	}
	if w, err := strconv.ParseFloat(widths[1], 64); err != nil || w < 200 || w > 280 {
		t.Errorf("the title is %v wide", w)
	}
}
