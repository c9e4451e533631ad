package study

import (
	"fmt"
	"math"
	"slices"

	"ridethrough/sim/internal/core/figure"
)

// Chart is a named chart of a study.
type Chart struct {
	Name  string // of a file, without its ending
	Chart figure.Chart
}

// Charts are those of the first version: the margin, what it depends on, and the share
// of runs that met everything over the course of the study. What has no data has no
// chart.
func (r *Result) Charts() []Chart {
	v := &r.Versions[0]
	list := []Chart{{"success", r.successChart(v)}}
	if v.Seconds.Count > 0 {
		list = append(list, Chart{"margin", r.marginChart(v)})
		if len(v.Effects) > 0 {
			list = append(list, Chart{"sensitivity", r.sensitivityChart(v)})
		}
	}
	return list
}

func (r *Result) subtitle(v *VersionResult) string {
	return fmt.Sprintf("%s, %s, seed %d, %d runs", r.Header.Scenario, label(v.Variant), r.Header.Seed, r.Played)
}

// bins is about how many bars a histogram has.
const bins = 36

func (r *Result) marginChart(v *VersionResult) figure.Chart {
	unit, of := "s", 1.0
	if v.Seconds.Most-v.Seconds.Min > 600 {
		unit, of = "min", 60
	}
	width := figure.BarWidth((v.Seconds.Most-v.Seconds.Min)/of, bins)
	counts, first := histogram(v.Margins, of, width)
	c := figure.Chart{
		Title: "Time to spare when the last host had stopped", Subtitle: r.subtitle(v), LegendTop: true,
		X: figure.Axis{Label: "Time to spare (" + unit + "); below 0: what a host that was cut still needed", Min: first, Max: first + float64(width*float64(len(counts)))},
		Y: figure.Axis{Label: "Runs", Min: 0, Max: 1.1 * float64(slices.Max(counts))},
	}
	named := map[bool]bool{}
	for i, n := range counts {
		low := first + float64(float64(i)*width)
		short := low < -float64(0.5*width)
		a := figure.Area{Points: box(low, low+width, 0, float64(n)), Colour: figure.Blue}
		name := "every host stopped in time"
		if short {
			a.Colour, name = figure.Red, "a host was cut"
		}
		if n > 0 && !named[short] {
			named[short], a.Name = true, name
		}
		c.Areas = append(c.Areas, a)
	}
	return c
}

func box(left, right, low, high float64) []figure.XY {
	return []figure.XY{{X: left, Y: low}, {X: left, Y: high}, {X: right, Y: high}, {X: right, Y: low}}
}

// histogram counts values, divided by of, in bars of that width, one of which begins
// at 0.
func histogram(values []float64, of, width float64) (counts []int, first float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		bar := math.Floor(v / of / width)
		low, high = min(low, bar), max(high, bar)
	}
	counts = make([]int, int(high-low)+1)
	for _, v := range values {
		counts[int(math.Floor(v/of/width)-low)]++
	}
	return counts, low * width
}

// barsShown is how many quantities the chart of the sensitivity has.
const barsShown = 16

func (r *Result) sensitivityChart(v *VersionResult) figure.Chart {
	c := figure.Chart{
		Title: "What the time to spare depends on", Subtitle: r.subtitle(v),
		X: figure.Axis{Label: "Share of the variance of the time to spare (%)", Min: 0, Max: 110},
	}
	shown := v.Effects[:min(barsShown, len(v.Effects))]
	n := float64(len(shown))
	c.Y = figure.Axis{Min: 0, Max: n + 0.5}
	for i := range shown {
		e := &shown[i]
		at := n - float64(i)
		text := "constant"
		if e.Fixed {
			text = "fixed"
		} else if e.Varies {
			text = decimals(100*e.Share, 1).String() + " %"
			if e.Labels == nil {
				text += ", rank correlation " + decimals(e.Rank, 2).String()
			}
		}
		c.Areas = append(c.Areas, figure.Area{Points: box(0, max(100*e.Share, 0.2), at-0.8, at-0.2), Colour: figure.Blue})
		c.Y.Ticks = append(c.Y.Ticks, figure.Tick{At: at - 0.5, Text: e.Path})
		label := figure.Label{At: figure.XY{X: 100 * e.Share, Y: at - 0.62}, Text: text, Backed: true}
		if e.Share > 0.55 {
			label.At.Y, label.Left = at-0.2, true
			label.At.X = 108
		}
		c.Labels = append(c.Labels, label)
	}
	return c
}

func (r *Result) successChart(v *VersionResult) figure.Chart {
	share := figure.Series{Name: "share of the runs so far", Colour: figure.Blue}
	low := figure.Series{Name: "95 % interval (Wilson)", Colour: figure.Grey, Dashed: true, Thin: true}
	high := figure.Series{Colour: figure.Grey, Dashed: true, Thin: true}
	least := 100.0
	for i, fails := range v.Fails {
		n := (i + 1) * r.Played / len(v.Fails)
		p, x := wilson(n-fails, n), float64(n)
		share.Points = append(share.Points, figure.XY{X: x, Y: 100 * p.Share})
		low.Points = append(low.Points, figure.XY{X: x, Y: 100 * p.Low})
		high.Points = append(high.Points, figure.XY{X: x, Y: 100 * p.High})
		if i >= len(v.Fails)/20 {
			least = min(least, 100*p.Low)
		}
	}
	bottom := max(0, 10*math.Floor(least/10-0.2))
	for _, s := range []*figure.Series{&share, &low, &high} {
		s.Points = slices.DeleteFunc(s.Points, func(p figure.XY) bool { return p.Y < bottom })
	}
	c := figure.Chart{
		Title: "Runs that met every expectation", Subtitle: r.subtitle(v),
		X: figure.Axis{Label: "Runs", Min: 0, Max: float64(max(r.Played, 1))},
		Y: figure.Axis{Label: "Share (%)", Min: bottom, Max: 100 + float64(0.05*(100-bottom))},
	}
	for _, s := range []figure.Series{share, low, high} {
		if len(s.Points) > 1 {
			c.Series = append(c.Series, s)
		}
	}
	return c
}
