package figure

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Stack is charts one above the other over the same time, in seconds: states as
// bands on top, then a panel for each quantity.
type Stack struct {
	Title  string // for who cannot see it
	Until  float64
	Bands  []Band
	Panels []Panel
	Marks  []float64 // times that go through every panel as a thin line
}

// Band is what was the state of something.
type Band struct {
	Name  string
	Spans []Span
}

// Span is a state from a time on, up to the next span.
type Span struct {
	From float64
	Text string // shown where there is room for it
	Tone Tone
}

// Tone is how a state is filled. In grey they differ too.
type Tone uint8

// Tones.
const (
	Blank   Tone = iota // nothing is going on: white
	Calm                // as it should be
	Busy                // on its way, to or from
	Warning             // not as it should be
	Bad                 // lost
)

// Panel is one quantity, or several in the same unit.
type Panel struct {
	Label    string // with the unit
	Min, Max float64
	Series   []Series
}

const (
	stackWidth  = 18 * vg.Centimeter
	leftRoom    = 2.6 * vg.Centimeter
	rightRoom   = 0.3 * vg.Centimeter
	bandHeight  = 0.46 * vg.Centimeter
	panelHeight = 2.5 * vg.Centimeter
	headRoom    = 0.62 * vg.Centimeter // above a panel, for what it shows
	axisRoom    = 0.95 * vg.Centimeter // below everything, for the time
)

func (s *Stack) height() vg.Length {
	h := axisRoom + 0.15*vg.Centimeter
	h += vg.Length(float64(len(s.Bands)) * float64(bandHeight))
	return h + vg.Length(float64(len(s.Panels))*float64(panelHeight+headRoom))
}

// Write writes the charts.
func (s *Stack) Write(w io.Writer, f Format) error {
	switch f {
	case SVG:
		text, err := s.svg()
		if err != nil {
			return err
		}
		_, err = io.WriteString(w, text)
		return err
	case PNG:
		canvas := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(stackWidth, s.height()), vgimg.UseDPI(dotsPerInch))}
		s.paint(draw.New(canvas))
		_, err := canvas.WriteTo(w)
		return err
	}
	return fmt.Errorf("no format %q", f)
}

func (s *Stack) svg() (string, error) {
	canvas := vgsvg.New(stackWidth, s.height())
	s.paint(draw.New(canvas))
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return "", err
	}
	return fitted(b.String()), nil
}

// Inline is the charts as an element of a page.
func (s *Stack) Inline() (string, error) {
	text, err := s.svg()
	if err != nil {
		return "", err
	}
	at := strings.Index(text, "<svg")
	return text[at:], nil
}

func (s *Stack) paint(c draw.Canvas) {
	c.SetColor(color.White)
	c.Fill(c.Rectangle.Path())
	top := c.Max.Y - 0.15*vg.Centimeter
	for i := range s.Bands {
		s.band(c, top, &s.Bands[i])
		top -= bandHeight
	}
	for i := range s.Panels {
		top -= headRoom
		s.panel(c, top, &s.Panels[i])
		top -= panelHeight
	}
	s.timeAxis(c, top)
}

// at is where a time stands.
func (s *Stack) at(seconds float64) vg.Length {
	room := stackWidth - leftRoom - rightRoom
	return leftRoom + vg.Length(float64(min(max(seconds, 0), s.Until)/s.Until*float64(room)))
}

func (s *Stack) band(c draw.Canvas, top vg.Length, b *Band) {
	const gap = 0.05 * vg.Centimeter
	middle := top - bandHeight/2
	write(c, b.Name, 8, Black, vg.Point{X: leftRoom - 0.15*vg.Centimeter, Y: middle}, text.XRight)
	for _, span := range s.seen(b.Spans) {
		from, to := span.from, span.to
		box := []vg.Point{{X: from, Y: top - gap}, {X: to, Y: top - gap}, {X: to, Y: top - bandHeight + gap}, {X: from, Y: top - bandHeight + gap}}
		c.FillPolygon(tones[span.Tone].ground, box)
		if span.mixed {
			continue // borders would be all that is seen of it
		}
		line(c, shade(Grey), 0.4, nil, append(box, box[0])...)
		if vg.Length(widthOf(span.Text, 7))+4 < to-from {
			place := vg.Point{X: (from + to) / 2, Y: middle}
			style := letter(7, tones[span.Tone].ink)
			style.XAlign, style.YAlign = text.XCenter, text.YCenter
			c.FillText(style, place, span.Text)
		}
	}
}

var tones = [...]struct{ ground, ink color.NRGBA }{
	Blank:   {color.NRGBA{0xff, 0xff, 0xff, 0xff}, color.NRGBA{0x55, 0x55, 0x55, 0xff}},
	Calm:    {color.NRGBA{0xe0, 0xee, 0xe3, 0xff}, color.NRGBA{0x22, 0x22, 0x22, 0xff}},
	Busy:    {color.NRGBA{0xbb, 0xd2, 0xea, 0xff}, color.NRGBA{0x22, 0x22, 0x22, 0xff}},
	Warning: {color.NRGBA{0xe9, 0xa8, 0x4c, 0xff}, color.NRGBA{0x22, 0x22, 0x22, 0xff}},
	Bad:     {color.NRGBA{0x9c, 0x24, 0x20, 0xff}, color.NRGBA{0xff, 0xff, 0xff, 0xff}},
}

func (s *Stack) panel(c draw.Canvas, top vg.Length, p *Panel) {
	bottom := top - panelHeight
	left, right := s.at(0), s.at(s.Until)
	y := func(v float64) vg.Length {
		return bottom + vg.Length(float64((min(max(v, p.Min), p.Max)-p.Min)/(p.Max-p.Min)*float64(panelHeight)))
	}
	axis := Axis{Min: p.Min, Max: p.Max}
	step, decimals := roomy(p.Max - p.Min)
	if (p.Max-p.Min)/step > 5 {
		step *= 2
	}
	axis.round(step, decimals)
	for _, t := range axis.Ticks {
		line(c, shade(PaleGrey), 0.4, nil, vg.Point{X: left, Y: y(t.At)}, vg.Point{X: right, Y: y(t.At)})
		write(c, t.Text, 7.5, Black, vg.Point{X: left - 0.12*vg.Centimeter, Y: y(t.At)}, text.XRight)
	}
	for _, t := range s.ticks() {
		line(c, shade(PaleGrey), 0.4, nil, vg.Point{X: s.at(t.At), Y: bottom}, vg.Point{X: s.at(t.At), Y: top})
	}
	for _, m := range s.Marks {
		line(c, shade(Grey), 0.5, []vg.Length{2, 2}, vg.Point{X: s.at(m), Y: bottom}, vg.Point{X: s.at(m), Y: top})
	}
	s.heading(c, top, p)
	for _, one := range p.Series {
		s.series(c, y, one)
	}
	line(c, shade(Grey), 0.6, nil, vg.Point{X: left, Y: top}, vg.Point{X: left, Y: bottom}, vg.Point{X: right, Y: bottom})
}

// heading says above a panel what it shows.
func (s *Stack) heading(c draw.Canvas, top vg.Length, p *Panel) {
	y := top + 0.24*vg.Centimeter
	write(c, p.Label, 8, Black, vg.Point{X: leftRoom, Y: y}, text.XLeft)
	x := stackWidth - rightRoom
	for i := len(p.Series) - 1; i >= 0; i-- {
		one := p.Series[i]
		if one.Name == "" {
			continue
		}
		write(c, one.Name, 8, Black, vg.Point{X: x, Y: y}, text.XRight)
		x -= vg.Length(widthOf(one.Name, 8)) + 0.12*vg.Centimeter
		line(c, shade(one.Colour), one.width(), one.dashes(), vg.Point{X: x - 0.7*vg.Centimeter, Y: y}, vg.Point{X: x, Y: y})
		x -= 1.05 * vg.Centimeter
	}
}

func (s Series) width() vg.Length {
	if s.Thin {
		return 0.7
	}
	return 1.2
}

func (s Series) dashes() []vg.Length {
	if s.Dashed {
		return []vg.Length{4, 3}
	}
	return nil
}

// series is one line; a point whose Y is less than the panel can show because it is not
// known ends it, and the next one begins it anew.
func (s *Stack) series(c draw.Canvas, y func(float64) vg.Length, one Series) {
	var part []vg.Point
	flush := func() {
		if len(part) > 1 {
			line(c, shade(one.Colour), one.width(), one.dashes(), visible(part)...)
		}
		part = nil
	}
	for _, q := range one.Points {
		if q.Y < Unknown/2 {
			flush()
			continue
		}
		part = append(part, vg.Point{X: s.at(q.X), Y: y(q.Y)})
	}
	flush()
}

// Unknown is the Y of a point of a [Stack] where there is nothing to show.
const Unknown = -1e12

func (s *Stack) timeAxis(c draw.Canvas, bottom vg.Length) {
	for _, t := range s.ticks() {
		line(c, shade(Grey), 0.6, nil, vg.Point{X: s.at(t.At), Y: bottom}, vg.Point{X: s.at(t.At), Y: bottom - 0.08*vg.Centimeter})
		write(c, t.Text, 7.5, Black, vg.Point{X: s.at(t.At), Y: bottom - 0.28*vg.Centimeter}, text.XCenter)
	}
	write(c, "time from the start of the scenario, h:mm", 8, Black, vg.Point{X: (s.at(0) + s.at(s.Until)) / 2, Y: bottom - 0.68*vg.Centimeter}, text.XCenter)
}

// spacings are steps of time that people count in, in seconds.
var spacings = []float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 4 * 3600, 6 * 3600, 12 * 3600, 24 * 3600, 48 * 3600, 7 * 24 * 3600, 28 * 24 * 3600, 84 * 24 * 3600}

func (s *Stack) ticks() (list []Tick) {
	step := spacings[len(spacings)-1]
	for _, d := range spacings {
		if s.Until/d <= 10 {
			step = d
			break
		}
	}
	for i := 0; float64(i)*step <= s.Until; i++ {
		list = append(list, Tick{float64(i) * step, clockText(float64(i)*step, step < 60)})
	}
	return list
}

func clockText(seconds float64, fine bool) string {
	n := int(seconds)
	if fine {
		return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%d:%02d", n/3600, n/60%60)
}

func letter(points vg.Length, ink color.Color) text.Style {
	s := text.Style{Color: ink, Handler: plot.DefaultTextHandler}
	style(&s, points)
	return s
}

func write(c draw.Canvas, words string, points vg.Length, colour int, at vg.Point, align text.XAlignment) {
	s := letter(points, shade(colour))
	s.XAlign, s.YAlign = align, text.YCenter
	c.FillText(s, at, words)
}

func line(c draw.Canvas, ink color.Color, width vg.Length, dashes []vg.Length, points ...vg.Point) {
	c.StrokeLines(draw.LineStyle{Color: ink, Width: width, Dashes: dashes}, points)
}
