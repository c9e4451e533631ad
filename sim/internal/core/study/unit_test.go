package study

import (
	"strings"
	"testing"
)

// fed is a machine on two units, of which one falls at five minutes and the other may.
const fed = `
title = "two"
run_for = "20m"
[battery]
capacity_ah = 40
[[unit]]
name = "b"
[unit.source]
[unit.battery]
capacity_ah = 9
[[group]]
name = "rack_a"
[[group]]
name = "rack_b"
unit = "b"
[[host]]
name = "both"
groups = ["rack_a", "rack_b"]
draw_w = 600
[[at]]
time = "5m"
unit = "b"
source = { volts = 0, lasts = "5m" }
[[at]]
time = "6m"
name = "other"
source = { volts = 0, lasts = "1m" }
[[variant]]
name = "one"
why = "the other feeder stays"
set = { "at.other.source" = "normal" }
`

// TestMarginOfUnits: what is to spare is what the battery had left that came nearest to
// its end while a machine hung on it, and one that no machine needs is none.
func TestMarginOfUnits(t *testing.T) {
	play := func(text string) []Outcome {
		p, err := NewPlayer(&Source{Name: "two.toml", Text: []byte(text), Seed: 1, Variants: []string{"", "one"}})
		if err != nil {
			t.Fatal(err)
		}
		r, err := p.Play(1)
		if err != nil {
			t.Fatal(err)
		}
		return r.Versions
	}
	small := play(fed)
	large := play(strings.Replace(fed, "capacity_ah = 9", "capacity_ah = 40", 1))
	if small[0].Margin == nil || large[0].Margin == nil || small[0].Margin.Seconds*2 > large[0].Margin.Seconds {
		t.Errorf("%+v and %+v", small[0].Margin, large[0].Margin)
	}
	if small[1].Margin != nil {
		t.Errorf("a battery that no machine hung on alone has a margin: %+v", small[1].Margin)
	}
}
