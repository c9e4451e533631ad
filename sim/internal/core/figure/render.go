package figure

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"path"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Format is how a chart is written.
type Format string

// Formats.
const (
	SVG Format = "svg"
	PNG Format = "png"
)

// FormatOf is the format that the name of a file asks for by its ending; ok is
// false if it is neither.
func FormatOf(name string) (f Format, ok bool) {
	f = Format(strings.ToLower(strings.TrimPrefix(path.Ext(name), ".")))
	return f, f == SVG || f == PNG
}

const (
	width, height = 22 * vg.Centimeter, 14 * vg.Centimeter
	dotsPerInch   = 144
	margin        = 4 * vg.Millimeter
)

// Write writes the chart.
func (c *Chart) Write(w io.Writer, f Format) error {
	p, err := c.plot()
	if err != nil {
		return err
	}
	switch f {
	case SVG:
		canvas := vgsvg.New(width, height)
		c.paint(p, draw.New(canvas))
		var b bytes.Buffer
		if _, err := canvas.WriteTo(&b); err != nil {
			return err
		}
		_, err := io.WriteString(w, fitted(b.String()))
		return err
	case PNG:
		canvas := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dotsPerInch))}
		c.paint(p, draw.New(canvas))
		_, err := canvas.WriteTo(w)
		return err
	}
	return fmt.Errorf("no format %q", f)
}

func (c *Chart) paint(p *plot.Plot, dc draw.Canvas) {
	dc.SetColor(color.White)
	dc.Fill(dc.Rectangle.Path())
	inner := draw.Crop(dc, margin, -3*margin, margin, -margin)
	legend := p.Legend
	p.Legend = plot.NewLegend()
	p.Draw(inner)
	legend.Draw(c.legendRoom(p.DataCanvas(inner), &legend))
	under := p.Title.TextStyle
	style(&under, 9.5)
	under.Color = shade(Grey)
	under.XAlign, under.YAlign = text.XCenter, text.YTop
	inner.FillText(under, vg.Point{X: (inner.Min.X + inner.Max.X) * 0.5, Y: inner.Max.Y - 6*vg.Millimeter}, c.Subtitle)
}

// legendRoom is where the legend goes. One on the right has its lines before its
// texts too, as wide as the longest of these with room to spare: a viewer may have
// wider letters than those that were measured.
func (c *Chart) legendRoom(data draw.Canvas, legend *plot.Legend) draw.Canvas {
	if c.LegendLeft {
		return data
	}
	const spare = 1.18
	widest := 0.0
	for _, s := range c.Series {
		widest = max(widest, widthOf(s.Name, 9))
	}
	for _, a := range c.Areas {
		widest = max(widest, widthOf(a.Name, 9))
	}
	legend.Left, legend.XOffs = true, 0
	room := legend.ThumbnailWidth + vg.Length(spare*widest) + 4*vg.Millimeter
	return draw.Crop(data, data.Max.X-data.Min.X-room, 0, 0, 0)
}

func (c *Chart) plot() (*plot.Plot, error) {
	p := plot.New()
	p.BackgroundColor = color.White
	p.Title.Text = c.Title
	p.Title.Padding = 8 * vg.Millimeter // room for the subtitle
	style(&p.Title.TextStyle, 12)
	p.Legend.Left, p.Legend.Top = c.LegendLeft, c.LegendTop
	p.Legend.YOffs = vg.Length(2+c.LegendGap) * vg.Millimeter
	if c.LegendTop {
		p.Legend.YOffs = -p.Legend.YOffs
	}
	p.Legend.XOffs = -3 * vg.Millimeter
	if c.LegendLeft {
		p.Legend.XOffs = -p.Legend.XOffs
	}
	p.Legend.Padding = 1 * vg.Millimeter
	p.Legend.ThumbnailWidth = 8 * vg.Millimeter
	style(&p.Legend.TextStyle, 9)
	if err := c.addAreas(p); err != nil {
		return nil, err
	}
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = shade(PaleGrey), shade(PaleGrey)
	grid.Vertical.Width, grid.Horizontal.Width = 0.5, 0.5
	p.Add(grid)
	if err := c.addSeries(p); err != nil {
		return nil, err
	}
	if err := c.addLabels(p); err != nil {
		return nil, err
	}
	c.X.apply(&p.X) // last, because what is added widens the axes
	c.Y.apply(&p.Y)
	return p, nil
}

// style sets the one family of letters that every text has.
func style(s *text.Style, points vg.Length) {
	s.Font.Typeface, s.Font.Variant, s.Font.Size = "Liberation", "Sans", points
}

func (a Axis) apply(to *plot.Axis) {
	to.Label.Text, to.Min, to.Max = a.Label, a.Min, a.Max
	style(&to.Label.TextStyle, 10)
	style(&to.Tick.Label, 9)
	to.Label.Padding = 2 * vg.Millimeter
	to.Padding = 0
	switch {
	case a.Log:
		to.Scale = plot.LogScale{}
		to.Tick.Marker = plot.LogTicks{Prec: -1}
	case len(a.Ticks) == 0:
		a.round(roomy(a.Max - a.Min))
	}
	if len(a.Ticks) > 0 {
		var marks plot.ConstantTicks
		for _, t := range a.Ticks {
			marks = append(marks, plot.Tick{Value: t.At, Label: t.Text})
		}
		to.Tick.Marker = marks
	}
}

func (c *Chart) addAreas(p *plot.Plot) error {
	for _, a := range c.Areas {
		polygon, err := plotter.NewPolygon(points(a.Points))
		if err != nil {
			return err
		}
		polygon.Color = shade(a.Colour)
		polygon.LineStyle.Width = 0
		p.Add(polygon)
		if a.Name != "" {
			p.Legend.Add(a.Name, polygon)
		}
	}
	return nil
}

func (c *Chart) addSeries(p *plot.Plot) error {
	for _, s := range c.Series {
		thumb, err := s.add(p)
		if err != nil {
			return fmt.Errorf("%s: %w", s.Name, err)
		}
		if s.Name != "" {
			p.Legend.Add(s.Name, thumb)
		}
	}
	return nil
}

func (s Series) add(p *plot.Plot) (plot.Thumbnailer, error) {
	if s.Mark != Line {
		dots, err := plotter.NewScatter(points(s.Points))
		if err != nil {
			return nil, err
		}
		dots.GlyphStyle = draw.GlyphStyle{Color: shade(s.Colour), Radius: 2.8, Shape: s.Mark.shape()}
		p.Add(dots)
		return dots, nil
	}
	line, err := plotter.NewLine(points(s.Points))
	if err != nil {
		return nil, err
	}
	line.Color, line.Width = shade(s.Colour), 1.4
	if s.Thin {
		line.Width = 0.7
	}
	if s.Dashed {
		line.Dashes = []vg.Length{4, 3}
	}
	p.Add(line)
	return line, nil
}

func (m Mark) shape() draw.GlyphDrawer {
	switch m {
	case Rings:
		return draw.RingGlyph{}
	case Crosses:
		return cross{}
	default:
		return draw.CircleGlyph{}
	}
}

// cross is a cross that can be seen.
type cross struct{}

func (cross) DrawGlyph(c *draw.Canvas, s draw.GlyphStyle, at vg.Point) {
	c.SetLineStyle(draw.LineStyle{Color: s.Color, Width: 1.6})
	for _, y := range []vg.Length{-s.Radius, s.Radius} {
		var stroke vg.Path
		stroke.Move(vg.Point{X: at.X - s.Radius, Y: at.Y - y})
		stroke.Line(vg.Point{X: at.X + s.Radius, Y: at.Y + y})
		c.Stroke(stroke)
	}
}

func (c *Chart) addLabels(p *plot.Plot) error {
	for _, l := range c.Labels {
		labels, err := plotter.NewLabels(plotter.XYLabels{XYs: points([]XY{l.At}), Labels: []string{l.Text}})
		if err != nil {
			return err
		}
		s := &labels.TextStyle[0]
		if l.Backed {
			p.Add(backing{labels})
		}
		style(s, 8.5)
		labels.Offset = vg.Point{X: 4, Y: 4 + vg.Length(11*l.Lift)}
		s.YAlign = text.YBottom
		if l.Below {
			s.YAlign, labels.Offset.Y = text.YTop, -4
		}
		switch {
		case l.Centre:
			s.XAlign, labels.Offset.X = text.XCenter, 0
		case l.Left:
			s.XAlign, labels.Offset.X = text.XRight, -4
		}
		p.Add(labels)
	}
	return nil
}

func points(xy []XY) plotter.XYs {
	out := make(plotter.XYs, len(xy))
	for i, q := range xy {
		out[i] = plotter.XY(q)
	}
	return out
}

var shades = [...]color.NRGBA{
	Black:     {0x22, 0x22, 0x22, 0xff},
	Blue:      {0x1b, 0x5e, 0x9b, 0xff},
	Orange:    {0xd9, 0x7a, 0x0b, 0xff},
	Green:     {0x2a, 0x82, 0x4f, 0xff},
	Red:       {0xb9, 0x2b, 0x27, 0xff},
	Purple:    {0x6f, 0x42, 0x93, 0xff},
	Grey:      {0x77, 0x77, 0x77, 0xff},
	PaleGreen: {0xe3, 0xf2, 0xe6, 0xff},
	PaleRed:   {0xfa, 0xe3, 0xe0, 0xff},
	PaleGrey:  {0xcc, 0xcc, 0xcc, 0xff},
}

// shade is a colour; those of the family run from blue over green to red.
func shade(colour int) color.Color {
	if colour < Family {
		return shades[colour]
	}
	stops := [...]color.NRGBA{{0x20, 0x3a, 0x8c, 0xff}, {0x1f, 0x8a, 0x8a, 0xff}, {0xd1, 0x96, 0x10, 0xff}, {0xa8, 0x1c, 0x24, 0xff}}
	const spans = len(stops) - 1
	place := min(colour-Family, FamilySize-1) * spans
	i := min(place/(FamilySize-1), spans-1)
	part := place - i*(FamilySize-1)
	mix := func(a, b uint8) uint8 { return uint8(int(a) + (int(b)-int(a))*part/(FamilySize-1)) }
	a, b := stops[i], stops[i+1]
	return color.NRGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 0xff}
}
