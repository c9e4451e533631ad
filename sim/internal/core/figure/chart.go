package figure

import (
	"math"
	"strconv"
)

// Chart is one picture. Coordinates are in the units that the axes name.
type Chart struct {
	Title, Subtitle string
	X, Y            Axis
	Areas           []Area
	Series          []Series
	Labels          []Label
	// LegendLeft and LegendTop say in which corner the names of the series stand.
	// LegendGap is kept free above or below them, in millimetres.
	LegendLeft, LegendTop bool
	LegendGap             float64
}

// Axis is one axis from Min to Max, which a logarithmic one needs above 0.
// Without Ticks it gets round numbers.
type Axis struct {
	Label    string // with the unit
	Min, Max float64
	Log      bool
	Ticks    []Tick
}

// Tick is a mark of an axis with a line of the grid; without a text it is minor
// and has none.
type Tick struct {
	At   float64
	Text string
}

// XY is a point.
type XY struct{ X, Y float64 }

// Series is a line, or single points. Series of the same Colour belong
// together; only those with a Name stand in the legend.
type Series struct {
	Name   string
	Points []XY
	Mark   Mark
	Dashed bool
	Thin   bool
	Colour int
}

// Mark is how the points of a series are drawn.
type Mark uint8

// Marks.
const (
	Line Mark = iota
	Dots
	Rings
	Crosses
)

// Area is a filled polygon behind everything.
type Area struct {
	Name   string
	Points []XY
	Colour int
}

// Label is a text at a point, by default above and to the right of it.
type Label struct {
	At     XY
	Text   string
	Below  bool // below the point instead of above
	Centre bool // centred on the point instead of to its right
	Left   bool // to its left
	Lift   int  // rows higher, so that it does not lie on another
	Backed bool // on white, so that no line of the grid goes through it
}

// Colours of series and areas.
const (
	Black = iota
	Blue
	Orange
	Green
	Red
	Purple
	Grey
	PaleGreen // for areas
	PaleRed
	PaleGrey

	// Family is the first of a run of [FamilySize] colours from cool to warm.
	Family
	FamilySize = 9
)

// curve makes the polyline through f at steps of x, n points of equal distance on
// the axis.
func (a Axis) curve(n int, f func(x float64) float64) []XY {
	points := make([]XY, n)
	for i := range points {
		share := float64(i) / float64(n-1)
		x := a.Min + float64(share*(a.Max-a.Min))
		if a.Log {
			x = a.Min * math.Pow(a.Max/a.Min, share)
		}
		points[i] = XY{x, f(x)}
	}
	return points
}

// Minutes is an axis of time in minutes, logarithmic, with the marks that a
// discharge is read by.
func Minutes(low, high float64) Axis {
	a := Axis{Label: "Time on battery", Min: low, Max: high, Log: true}
	a.Ticks = within(a, []Tick{
		{0.1, "6 s"}, {0.5, "30 s"}, {1, "1 min"}, {2, "2 min"}, {3, "3"}, {5, "5 min"}, {10, "10 min"}, {15, ""}, {20, "20"}, {30, "30"}, {45, ""},
		{60, "1 h"}, {120, "2 h"}, {180, "3"}, {300, "5 h"}, {480, ""}, {600, "10 h"}, {1200, "20 h"}, {2400, "40"},
	})
	return a
}

// within keeps the ticks that lie on the axis.
func within(a Axis, ticks []Tick) (kept []Tick) {
	for _, t := range ticks {
		if t.At >= a.Min && t.At <= a.Max {
			kept = append(kept, t)
		}
	}
	return kept
}

// round marks an axis at every multiple of step, with that many decimals.
func (a *Axis) round(step float64, decimals int) {
	a.Ticks = nil
	for i := math.Ceil(a.Min/step - 1e-9); float64(i*step) <= a.Max+float64(1e-9*step); i++ {
		at := float64(i*step) + 0 // not -0
		a.Ticks = append(a.Ticks, Tick{at, strconv.FormatFloat(at, 'f', decimals, 64)})
	}
}

// roomy is a step of 1, 2 or 5 times a power of ten that marks a span in some
// five to ten places, and the decimals that it needs.
func roomy(span float64) (step float64, decimals int) {
	power := math.Floor(math.Log10(span))
	unit := math.Pow(10, power)
	switch lead := span / unit; {
	case lead < 2:
		step, power = 0.2*unit, power-1
	case lead < 5:
		step, power = 0.5*unit, power-1
	default:
		step = unit
	}
	return step, max(0, -int(power))
}

// BarWidth is a round width of bars, at most so many of which cover a span; 1 for no
// span.
func BarWidth(span float64, most int) float64 {
	if !(span > 0) {
		return 1
	}
	width := math.Pow(10, math.Floor(math.Log10(span/float64(most))))
	for _, times := range []float64{2, 2.5, 2} {
		if span/width <= float64(most) {
			break
		}
		width *= times
	}
	return width
}
