package sim

import (
	"math"
	"path/filepath"
	"time"

	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/bundle"
)

// SourceOptions are the options of [ReplaySource].
type SourceOptions struct {
	// Limits are the largest differences that are still all right, by the names of
	// [Comparison.Quantities] and "transitions"; those that are not here are
	// [DefaultLimits].
	Limits map[string]float64
	Done   <-chan struct{} // ends it early
	// Log receives talk for people, a line a call.
	Log func(string)
}

// DefaultLimits are how far model and record may be apart: what the estimates of cards
// and the models of blocks that are not known better come to. Ours.
func DefaultLimits() map[string]float64 {
	return map[string]float64{"charge": 10, "runtime": 30, "output_voltage": 5, "battery_voltage": 5, "battery_temperature": 5, "transitions": 1}
}

// Comparison is a recorded incident beside what a scenario made of it.
type Comparison struct {
	Bundle, Scenario string // names of the files
	Readings, Gaps   int
	End              time.Duration
	Quantities       []Quantity
	Transitions      []Transition
	TransitionLimit  float64 // readings
	Result           *Result // of the scenario's expectations
}

// Quantity is how far model and record are apart in one quantity.
type Quantity struct {
	Name, Unit string // of the difference
	Readings   int    // that have it in both
	Mean       float64
	Worst      float64       // the largest, with its sign: model less record
	At         time.Duration // of the worst
	Record     float64       // there, in the quantity's own unit
	Model      float64
	Limit      float64
	Met        bool
}

// Transition is a change of what feeds the output.
type Transition struct {
	To            string        // in the words of RFC 1628
	After, Before time.Duration // readings between which the record has it
	Model         time.Duration // when the model has it; negative: it does not
	Apart         int           // readings; the model's comes later if positive
	Extra         bool          // the model alone has it
	Met           bool
}

// Met says whether everything is within its limit and every expectation was met.
func (c *Comparison) Met() bool {
	for _, q := range c.Quantities {
		if !q.Met {
			return false
		}
	}
	for _, t := range c.Transitions {
		if !t.Met {
			return false
		}
	}
	return c.Result.Met()
}

// ReplaySource lets s run through the incident that the bundle at path holds: its
// supply and load become the timeline of s, its first charge and temperature those of
// the battery. The error is an *IOError or an *InvalidError.
func ReplaySource(s *Scenario, path string, o SourceOptions) (*Comparison, error) {
	if err := s.playable(); err != nil {
		return nil, err
	}
	b, err := readBundle(path, o.Log)
	if err != nil {
		return nil, err
	}
	list := readouts(b, s.plan.UPS.RatingW)
	d, err := s.driven(list, tickOf(b.End))
	if err != nil {
		return nil, invalidBundle(path, err.Error())
	}
	o.warn(s, list)
	modelled, changes, result, err := d.sampled(list, o.Done)
	if err != nil {
		return nil, err
	}
	limits := DefaultLimits()
	for name, limit := range o.Limits {
		limits[name] = limit
	}
	c := &Comparison{
		Bundle: report.OneLine(filepath.Base(path)), Scenario: s.file(), Readings: len(list), Gaps: len(b.Gaps), End: b.End, Result: result,
		TransitionLimit: limits["transitions"],
	}
	list = list[:len(modelled)]
	for _, q := range quantities {
		c.Quantities = append(c.Quantities, q.compare(list, modelled, limits[q.name], s.plan.Source.Volts))
	}
	c.transitions(list, modelled, changes)
	return c, nil
}

// warn says what will make the two differ from the beginning.
func (o *SourceOptions) warn(s *Scenario, list []readout) {
	if o.Log == nil {
		return
	}
	if s.plan.Policy != nil {
		o.Log("the scenario has a shutdown manager of its own, beside what the record has: leave [policy] out if the load is to follow the record")
	}
	for i := range list {
		r := &list[i]
		if r.source == snap.SourceNormal && r.lines > 0 && math.Abs(r.supply[0]/s.plan.Source.Volts-1) > 0.2 {
			o.Log("the recorded supply is far from the nominal voltage of the scenario: is its [source] that of the site?")
			return
		}
	}
}

// change is what feeds the output of the model from a tick on.
type change struct {
	at vtime.Tick
	to snap.OutputSource
}

// sampled plays s and reads its card at the times of list. The times of the record are
// when its first request left; the model is read at that instant.
func (s *Scenario) sampled(list []readout, done <-chan struct{}) (out []readout, changes []change, result *Result, err error) {
	r, first, err := s.begin(nil, false)
	if err != nil {
		return nil, nil, nil, err
	}
	at := 0
	r.sampler = &sampler{
		next: func() (vtime.Tick, bool) {
			if at == len(list) {
				return 0, false
			}
			at++
			return list[at-1].at, true
		},
		take:   func(reading bundle.Reading) { out = append(out, readoutOf(&reading, s.plan.UPS.RatingW)) },
		source: func(t vtime.Tick, to snap.OutputSource) { changes = append(changes, change{t, to}) },
	}
	r.see(first)
	whole := r.to(s.plan.RunFor, done)
	r.sampler.until(r.engine.Now())
	result, err = r.finish(!whole)
	return out, changes, result, err
}

// quantities are what is compared. Relative ones are in percent of what nominal, or
// else the record, has.
var quantities = []quantity{
	{name: "charge", unit: "points", of: func(r *readout) float64 { return r.charge }, fed: true},
	{name: "runtime", unit: "%", of: onBatteryAlone, relative: true, fed: true},
	{name: "output_voltage", unit: "%", of: func(r *readout) float64 { return r.outV }, ofNominal: true, fed: true},
	{name: "battery_voltage", unit: "%", of: func(r *readout) float64 { return r.volts }, relative: true, fed: true},
	{name: "battery_temperature", unit: "K", of: func(r *readout) float64 { return r.temp }},
}

// onBatteryAlone is the runtime while it matters: on the mains cards show anything.
func onBatteryAlone(r *readout) float64 {
	if r.source != snap.SourceBattery {
		return math.NaN()
	}
	return r.runtime
}

type quantity struct {
	name, unit          string
	of                  func(*readout) float64
	relative, ofNominal bool
	fed                 bool // compared only while the same feeds the output in both
}

// leastRuntime is of what a difference in percent is taken at least: cards round to
// whole minutes.
const leastRuntime = 5

func (q *quantity) compare(record, modelled []readout, limit, nominal float64) Quantity {
	out := Quantity{Name: q.name, Unit: q.unit, Limit: limit, Met: true}
	sum := 0.0
	for i := range modelled {
		is, should := q.of(&modelled[i]), q.of(&record[i])
		if math.IsNaN(is) || math.IsNaN(should) || q.fed && record[i].source != modelled[i].source {
			continue
		}
		d := is - should
		switch {
		case q.ofNominal:
			d *= 100 / nominal
		case q.relative:
			d *= 100 / max(math.Abs(should), leastRuntime)
		}
		out.Readings++
		sum += math.Abs(d)
		if out.Readings == 1 || math.Abs(d) > math.Abs(out.Worst) {
			out.Worst, out.At, out.Record, out.Model = d, record[i].at.Duration(), should, is
		}
	}
	if out.Readings > 0 {
		out.Mean = sum / float64(out.Readings)
	}
	out.Met = math.Abs(out.Worst) <= limit
	return out
}

// transitions pairs those of the record with those of the model, both as a recorder
// sees them.
func (c *Comparison) transitions(record, modelled []readout, changes []change) {
	a, b := runs(record), runs(modelled)
	for len(a) > 0 || len(b) > 0 {
		t := Transition{Model: -1}
		switch {
		case len(b) == 0 || len(a) > 0 && a[0].to != b[0].to && a[0].at <= b[0].at:
			t.window(record, a[0])
			a = a[1:]
		case len(a) == 0 || a[0].to != b[0].to:
			t.window(modelled, b[0])
			t.Extra, t.Model = true, exact(changes, modelled, b[0])
			b = b[1:]
		default:
			t.window(record, a[0])
			t.Model, t.Apart = exact(changes, modelled, b[0]), b[0].at-a[0].at
			t.Met = math.Abs(float64(t.Apart)) <= c.TransitionLimit
			a, b = a[1:], b[1:]
		}
		c.Transitions = append(c.Transitions, t)
	}
}

// turn is a reading in which another source is seen than in the one before.
type turn struct {
	at int
	to snap.OutputSource
}

func runs(list []readout) (turns []turn) {
	last := snap.OutputSource(0)
	for i := range list {
		if is := list[i].source; is != 0 && is != last {
			if last != 0 {
				turns = append(turns, turn{i, is})
			}
			last = is
		}
	}
	return turns
}

func (t *Transition) window(list []readout, w turn) {
	t.To, t.Before = w.to.String(), list[w.at].at.Duration()
	t.After = list[w.at-1].at.Duration()
}

// exact is when the model changed to what it had at the reading.
func exact(changes []change, list []readout, w turn) time.Duration {
	at := time.Duration(-1)
	for _, x := range changes {
		if x.at <= list[w.at].at && x.to == w.to {
			at = x.at.Duration()
		}
	}
	return at
}
