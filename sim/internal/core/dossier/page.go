package dossier

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/vtime"
)

//go:embed page.html
var page string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"clock": clock, "took": took, "one": report.OneLine, "inc": func(i int) int { return i + 1 },
}).Parse(page))

// notProven is what nobody may read out of a simulation.
var notProven = []string{
	"wiring, earthing, polarity, and what is plugged in where",
	"ratings and settings of breakers and fuses, and the real inrush",
	"the health of the battery that stands there: a measured discharge does that",
	"the stop times of real machines, unless they were measured and entered",
	"the real network: switches, cables, filters, and what feeds them",
	"the unit's own firmware, and behaviour that its maker does not publish",
}

// triggers are when a site has to be proven anew: common practice.
var triggers = []string{
	"the battery was replaced, or a year has passed", "the load has grown by more than a tenth, or hosts came or went",
	"firmware of unit, card or shutdown software changed", "addresses, receivers or logins changed", "an outage did not go as planned",
}

// view is what the page is made of.
type view struct {
	*Dossier
	Verdicts   []expect.Verdict
	Met        bool
	Outcome    string
	Local, UTC string
	Lines      []report.Line
	Skipped    int
	Stops      []Cycle
	MoreStops  int
	Chart      template.HTML
	NotProven  []string
	Triggers   []string
	Untested   int
	Shown      []Test
	NotShown   []Test
}

// shownLines is how much of the timeline a page has; more is in the trace. shownStops is
// how many stops; all are in the report as JSON.
const (
	shownLines = 120
	shownStops = 60
)

// HTML writes the report as one page that needs nothing else.
func (d *Dossier) HTML(w io.Writer) error {
	chart, err := d.Charts.Inline()
	if err != nil {
		return err
	}
	r := d.Result
	v := view{
		Dossier: d, Verdicts: d.Ordered(), Met: r.Met() && len(r.Verdicts) > 0, Outcome: r.Closing(),
		Local: r.Start.Format("2006-01-02 15:04:05 -07:00"), UTC: r.Start.UTC().Format("2006-01-02 15:04:05"),
		Lines: r.Timeline(), NotProven: notProven, Triggers: triggers,
		Chart: template.HTML(chart), // drawn here: figure escapes what it writes
	}
	if v.Skipped = len(v.Lines) - shownLines; v.Skipped > 0 {
		v.Lines = v.Lines[:shownLines]
	}
	v.Stops = d.Cycles
	if v.MoreStops = len(v.Stops) - shownStops; v.MoreStops > 0 {
		v.Stops = v.Stops[:shownStops]
	}
	for _, t := range d.Tests {
		if t.At == vtime.Never {
			v.NotShown = append(v.NotShown, t)
		} else {
			v.Shown = append(v.Shown, t)
		}
	}
	return pageTemplate.Execute(w, v)
}

// clock is a time from the start, a dash for never.
func clock(t vtime.Tick) string {
	if t == vtime.Never {
		return "–"
	}
	return t.String()
}

// took is the time between two instants, a dash if one of them never came.
func took(from, to vtime.Tick) string {
	if from == vtime.Never || to == vtime.Never {
		return lasts(vtime.Never)
	}
	return lasts(to - from)
}

// lasts is a time in minutes and seconds, a dash for one that never comes or, below 0, is
// not known.
func lasts(t vtime.Tick) string {
	if t == vtime.Never || t < 0 {
		return "–"
	}
	tenths := (t + 50*vtime.Millisecond) / (100 * vtime.Millisecond)
	return fmt.Sprintf("%d:%02d.%d", tenths/600, tenths/10%60, tenths%10)
}
