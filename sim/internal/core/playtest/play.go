package playtest

import (
	"strings"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
)

// T is what is needed of a test.
type T interface {
	Helper()
	Fatalf(format string, args ...any)
}

// Run is one scenario on its way. Its methods fail the test on any error.
type Run struct {
	t      T
	Plan   *plan.Plan
	Engine *engine.Engine
	Site   *snap.Site // as it is now
	Sent   []snap.Notification
	SentAt []vtime.Tick  // when each of them left
	Procs  []snap.Effect // processes started and killed
	text   strings.Builder
	trace  *trace.Writer
}

// Start is the scenario src at tick 0.
func Start(t T, src string) *Run {
	t.Helper()
	p, err := scenario.Load("test.toml", []byte(src), scenario.Options{})
	if err != nil {
		t.Fatalf("scenario: %v", err)
	}
	return StartPlan(t, p)
}

// StartPlan is p at tick 0.
func StartPlan(t T, p *plan.Plan) *Run {
	t.Helper()
	r := &Run{t: t, Plan: p}
	r.trace = trace.New(&r.text, p)
	e, first, err := engine.New(p, scenario.Injector(p))
	if err != nil {
		t.Fatalf("engine: %v", err)
	}
	r.Engine = e
	r.see(first)
	return r
}

func (r *Run) see(f engine.Frame) {
	r.trace.Frame(f.Events, f.Site)
	r.Site = f.Site
	for _, e := range f.Effects {
		if e.Kind != snap.EffectNotify {
			r.Procs = append(r.Procs, e)
			continue
		}
		r.Sent = append(r.Sent, e.Notification)
		r.SentAt = append(r.SentAt, f.Tick)
	}
}

// To moves to the tick to.
func (r *Run) To(to vtime.Tick) *Run {
	for r.Engine.Now() < to {
		r.see(r.Engine.Step(to))
	}
	return r
}

// Step moves to the next instant of the run's own grid.
func (r *Run) Step() *Run {
	r.see(r.Engine.Step(r.Engine.Next()))
	return r
}

// End moves to the end of the run and judges it.
func (r *Run) End() []expect.Verdict {
	r.To(r.Plan.RunFor)
	r.trace.End(r.Site)
	return r.Engine.Finish()
}

// Do puts c to the site now.
func (r *Run) Do(c snap.Command) snap.Result {
	result, frame := r.Engine.Do(c)
	r.see(frame)
	return result
}

// Set writes variables now, all or none.
func (r *Run) Set(sets ...snap.Assignment) snap.Result {
	return r.Do(snap.Command{Op: snap.OpSet, By: snap.Actor{Surface: "snmp"}, Sets: sets})
}

// Write writes one variable now and fails if it is refused.
func (r *Run) Write(v snap.Var, value int64) *Run {
	r.t.Helper()
	if res := r.Set(snap.Assignment{Var: v, Int: value}); res.Status != snap.Done {
		r.t.Fatalf("%s = %d: refused: %s", v, value, res.Reason)
	}
	return r
}

// Ask puts a command without arguments to the site and fails if it is refused.
func (r *Run) Ask(op snap.Op) *Run {
	r.t.Helper()
	if res := r.Do(snap.Command{Op: op, By: snap.Actor{Surface: "serial", Role: snap.Administrator}}); res.Status != snap.Done {
		r.t.Fatalf("%s: refused: %s", op, res.Reason)
	}
	return r
}

// Inject does what a timeline entry says, now.
func (r *Run) Inject(toml string) *Run {
	r.t.Helper()
	if res := r.Do(snap.Command{Op: snap.OpInject, Text: toml, By: snap.Actor{Surface: "bench"}}); res.Status != snap.Done {
		r.t.Fatalf("%s: refused: %s", toml, res.Reason)
	}
	return r
}

// Trace is what happened so far.
func (r *Run) Trace() string { return r.text.String() }

// Count is how many lines of the trace contain text.
func (r *Run) Count(text string) int {
	n := 0
	for line := range strings.Lines(r.Trace()) {
		if strings.Contains(line, text) {
			n++
		}
	}
	return n
}
