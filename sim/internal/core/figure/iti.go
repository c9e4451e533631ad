package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/voltage"
	"ridethrough/sim/internal/phys/mains"
)

// legendRoom is how many variations are named one by one.
const legendRoom = 10

// ITI is the ITI curve with the voltage variations of a run on it, at their
// duration and magnitude; hz is the frequency of the supply, which the shortest
// classes of IEEE 1159 depend on.
func ITI(title string, list []voltage.Variation, hz float64) Chart {
	c := Chart{
		Title:     title + ": voltage variations on the ITI curve",
		Subtitle:  "names and classes of duration by IEEE 1159; dot: equipment on the curve works on, cross: it may not",
		X:         seconds(0.001, longest(list)),
		Y:         Axis{Label: "RMS voltage, % of nominal", Max: highest(list)},
		LegendTop: true, LegendGap: 5,
	}
	c.Y.round(20, 0)
	c.Y.Min = -6 // so that interruptions do not lie on the frame
	low, high := envelope(c.X, c.Y.Max)
	c.Areas = []Area{{Points: loop(low, high), Colour: PaleGreen}}
	c.Series = []Series{{Points: low, Colour: Green}, {Points: high, Colour: Green}}
	c.classes(hz)
	c.variations(list)
	return c
}

func longest(list []voltage.Variation) float64 {
	most := 1000.0
	for i := range list {
		for list[i].Seconds() > most {
			most *= 10
		}
	}
	return most
}

func highest(list []voltage.Variation) float64 {
	most := 200.0
	for i := range list {
		for 100*list[i].Share > most-10 {
			most += 20
		}
	}
	return most
}

// seconds is an axis of durations.
func seconds(low, high float64) Axis {
	a := Axis{Label: "Duration", Min: low, Max: high, Log: true}
	a.Ticks = within(a, []Tick{
		{0.001, "1 ms"}, {0.003, "3"}, {0.01, "10"}, {0.02, "20"}, {0.1, "100 ms"}, {0.5, "0.5 s"}, {1, "1 s"}, {3, "3"}, {10, "10"},
		{60, "1 min"}, {600, "10 min"}, {3600, "1 h"}, {36000, "10 h"},
	})
	return a
}

// envelope is the curve's lower and upper bound as stairs, which change at the
// durations that the standard names.
func envelope(x Axis, top float64) (low, high []XY) {
	grid := []float64{x.Min, 0.003, 0.02, 0.5, 10, x.Max}
	for i := 1; i < len(grid); i++ {
		l, h := mains.Envelope((grid[i-1] + grid[i]) / 2)
		h = min(100*h, top)
		low = append(low, XY{grid[i-1], 100 * l}, XY{grid[i], 100 * l})
		high = append(high, XY{grid[i-1], h}, XY{grid[i], h})
	}
	return low, append([]XY{{x.Min, min(200, top)}}, high...)
}

// loop is the way along low and back along high.
func loop(low, high []XY) []XY {
	out := append([]XY(nil), low...)
	for i := len(high) - 1; i >= 0; i-- {
		out = append(out, high[i])
	}
	return out
}

// classes draws the bounds between the classes of duration and names them.
func (c *Chart) classes(hz float64) {
	bounds := []float64{0.5 / hz, 30 / hz, 3, 60}
	for _, b := range bounds {
		c.Series = append(c.Series, Series{Points: []XY{{b, c.Y.Min}, {b, c.Y.Max}}, Colour: Grey, Dashed: true, Thin: true})
	}
	for i, name := range []string{"instantaneous", "momentary", "temporary", "long"} {
		c.Labels = append(c.Labels, Label{At: XY{bounds[i], c.Y.Max}, Text: name, Below: true})
	}
}

func (c *Chart) variations(list []voltage.Variation) {
	for i, v := range list {
		s := Series{Points: []XY{{max(v.Seconds(), c.X.Min), 100 * v.Share}}, Mark: Dots, Colour: Blue}
		if !v.Rides {
			s.Mark, s.Colour = Crosses, Red
		}
		if len(list) <= legendRoom {
			s.Name = fmt.Sprintf("%d  %s: %s", i+1, strings.TrimSuffix(v.Start.String(), ".000"), describe(v))
		}
		c.Series = append(c.Series, s)
		c.number(s.Points[0], i+1)
	}
	c.lift()
}

// lift puts numbers that would lie on each other one above the other: one is about
// perLetter decades wide for each of its letters.
func (c *Chart) lift() {
	const perLetter, band = 0.06, 10
	var numbers []*Label
	for i := range c.Labels {
		if !c.Labels[i].Below {
			numbers = append(numbers, &c.Labels[i])
		}
	}
	slices.SortStableFunc(numbers, func(a, b *Label) int { return cmp.Compare(a.At.X, b.At.X) })
	type row struct{ band, lift int }
	ends := map[row]float64{} // of what stands in a row, decades
	for _, l := range numbers {
		r, begins := row{band: int(l.At.Y) / band}, float64(math.Log10(l.At.X)) // its last step is a product
		for end, taken := ends[r]; taken && begins < end; end, taken = ends[r] {
			r.lift++
		}
		ends[r] = begins + float64(perLetter*float64(len(l.Text)+1))
		l.Lift = r.lift
	}
}

// nearTimes and nearPct are how far apart the durations and the voltages of two
// marks have to be for a number each.
const nearTimes, nearPct = 1.2, 5.0

// number names a mark. Numbers of marks that lie on each other stand in one row.
func (c *Chart) number(at XY, n int) {
	for i := range c.Labels {
		l := &c.Labels[i]
		if !l.Below && l.At.X < nearTimes*at.X && at.X < nearTimes*l.At.X && math.Abs(l.At.Y-at.Y) < nearPct {
			l.Text = joined(l.Text, n)
			return
		}
	}
	c.Labels = append(c.Labels, Label{At: at, Text: fmt.Sprint(n)})
}

// joined is a row of numbers with one more, the last ones only counted if they are
// many.
func joined(row string, n int) string {
	const most = 4
	parts := strings.Split(row, ", ")
	if last, more := strings.CutPrefix(parts[len(parts)-1], "+"); more {
		count, _ := strconv.Atoi(last)
		return strings.Join(append(parts[:len(parts)-1], fmt.Sprintf("+%d", count+1)), ", ")
	}
	if len(parts) == most {
		return row + ", +1"
	}
	return fmt.Sprintf("%s, %d", row, n)
}

func describe(v voltage.Variation) string {
	text := fmt.Sprintf("%s to %.0f %%, %s", v.Class, 100*v.Share, length(v.Seconds()))
	if v.Open {
		text += " and on"
	}
	return text
}

func length(s float64) string {
	switch {
	case s < 1:
		return fmt.Sprintf("%.0f ms", 1000*s)
	case s < 100:
		return fmt.Sprintf("%.3g s", s)
	case s < 6000:
		return fmt.Sprintf("%.3g min", s/60)
	}
	return fmt.Sprintf("%.3g h", s/3600)
}
