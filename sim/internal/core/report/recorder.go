package report

import (
	"slices"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
)

// MaxEvents bounds what a result keeps of a run that never settles down.
const MaxEvents = 100_000

// Recorder follows one run. It is not safe for concurrent use.
type Recorder struct {
	result Result
}

// NewRecorder begins the record of p, read from the file scenario with variant
// applied.
func NewRecorder(p *plan.Plan, scenario, variant string) *Recorder {
	return &Recorder{Result{
		Scenario: scenario, Title: p.Title, Variant: variant, Seed: p.Seed, Start: p.Start,
	}}
}

// Frame takes the events of one instant and the site after them. It keeps
// neither.
func (r *Recorder) Frame(events []site.Event, s *snap.Site) {
	room := MaxEvents - len(r.result.Events)
	for _, e := range events[:min(room, len(events))] {
		r.result.Events = append(r.result.Events, Event{
			Tick: e.Tick, Subject: e.Subject, Text: e.Text, What: e.What,
			Source: s.Of(e.What.Unit).UPS.Source, ChargePct: s.Of(e.What.Unit).ChargePct,
		})
	}
	r.result.Unkept += max(0, len(events)-room)
}

// Finish closes the record with the last site and the verdicts.
func (r *Recorder) Finish(s *snap.Site, verdicts []expect.Verdict, interrupted bool) *Result {
	r.result.Ended, r.result.Interrupted = s.Tick, interrupted
	r.result.Verdicts = verdicts
	r.result.Hosts = slices.Clone(s.Hosts)
	r.result.Sent = s.Sent
	for _, u := range s.Units {
		for k := range u.Sent {
			r.result.Sent[k] += u.Sent[k]
		}
	}
	return &r.result
}
