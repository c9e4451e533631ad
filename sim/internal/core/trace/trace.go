package trace

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Version is the number of the format; a change of format raises it.
const Version = 1

// Writer writes one trace. Its first error sticks; see [Writer.Err].
type Writer struct {
	w     io.Writer
	err   error
	lines int
}

// New begins the trace of p.
func New(w io.Writer, p *plan.Plan) *Writer {
	t := &Writer{w: w}
	t.line(fmt.Sprintf("# ridethrough trace %d, seed %d: %s", Version, p.Seed, oneLine(p.Title)))
	return t
}

// Frame writes the events of one instant and the readings after them; an
// instant without events writes nothing.
func (t *Writer) Frame(events []site.Event, s *snap.Site) {
	for _, e := range events {
		t.line(Line(e))
	}
	if len(events) > 0 {
		t.readings(s)
	}
}

// readings are those of all units.
func (t *Writer) readings(s *snap.Site) {
	t.line(Readings(s))
	for _, u := range s.Units {
		t.line(Readings(u))
	}
}

// End writes the last readings.
func (t *Writer) End(s *snap.Site) {
	t.line(fmt.Sprintf("%s end", s.Tick))
	t.readings(s)
}

// Lines is how many lines were written.
func (t *Writer) Lines() int { return t.lines }

// Err is the first error of the underlying writer.
func (t *Writer) Err() error { return t.err }

func (t *Writer) line(text string) {
	if t.err != nil {
		return
	}
	t.lines++
	_, t.err = io.WriteString(t.w, text+"\n")
}

// Line is one event as one line.
func Line(e site.Event) string {
	return fmt.Sprintf("%s %s: %s", e.Tick, oneLine(e.Subject), oneLine(e.Text))
}

// Readings is the state of the unit in one line.
func Readings(s *snap.Site) string {
	return fmt.Sprintf("%s %s= %s in %.1f V, load %.0f W, battery %.2f %% %.2f V %+.2f A %.2f C, runtime %.0f s, on battery %s",
		s.Tick, unitName(s), s.UPS.Source, s.Feed.Volts, s.Power.OutputW, s.ChargePct, s.Battery.Volts,
		zero(s.Battery.Amps), s.Battery.TempC, s.Battery.RuntimeS, onBattery(s))
}

// unitName is the name of a further unit of a site.
func unitName(s *snap.Site) string {
	if s.Unit == "" {
		return ""
	}
	return s.Unit + " "
}

func onBattery(s *snap.Site) string {
	if s.UPS.OnBatterySince == vtime.Never {
		return "no"
	}
	return (s.Tick - s.UPS.OnBatterySince).String()
}

// zero keeps a rounded zero from being printed with a minus sign.
func zero(v float64) float64 {
	if v > -0.005 && v < 0.005 {
		return 0
	}
	return v
}

// oneLine keeps text from outside on its line: control characters and what
// Unicode counts as the end of a line or paragraph become spaces.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp) {
			return ' '
		}
		return r
	}, s)
}
