package figure

import (
	"fmt"
	"html"
	"image/color"
	"regexp"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// letters are an element of text with its size and what it says.
var letters = regexp.MustCompile(`(?s)<text ([^>]*font-size:([0-9.]+)px[^>]*)>([^<]*)</text>`)

// fitted has a viewer give every text the width that it was placed with. It names
// fonts that a viewer has where it lacks the one that was measured, and those may be
// wider, so that a legend would run into its lines.
func fitted(svg string) string {
	svg = strings.ReplaceAll(svg, "font-family:Liberation Sans;", "font-family:'Liberation Sans',Arial,Helvetica,sans-serif;")
	return letters.ReplaceAllStringFunc(svg, func(element string) string {
		m := letters.FindStringSubmatch(element)
		points, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			return element
		}
		return fmt.Sprintf("<text %s textLength=\"%.1f\" lengthAdjust=\"spacingAndGlyphs\">%s</text>", m[1], widthOf(html.UnescapeString(m[3]), points), m[3])
	})
}

// widthOf is how wide a line is in points.
func widthOf(line string, points float64) float64 {
	var s text.Style
	style(&s, vg.Length(points))
	face := font.DefaultCache.Lookup(s.Font, s.Font.Size)
	return face.Width(line).Points()
}

// backing is the white ground of labels.
type backing struct{ of *plotter.Labels }

// Plot paints it.
func (b backing) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for i, at := range b.of.XYs {
		place := vg.Point{X: x(at.X) + b.of.Offset.X, Y: y(at.Y) + b.of.Offset.Y}
		box := b.of.TextStyle[i].Rectangle(b.of.Labels[i]).Add(place)
		c.FillPolygon(color.White, []vg.Point{box.Min, {X: box.Min.X, Y: box.Max.Y}, box.Max, {X: box.Max.X, Y: box.Min.Y}})
	}
}
