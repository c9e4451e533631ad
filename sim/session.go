package sim

import (
	"io"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
)

// session is one run of a scenario, however it is driven: it follows every
// frame and comes to a result.
type session struct {
	engine *engine.Engine
	record *report.Recorder
	trace  *trace.Writer // nil: nobody wants one
	last   *snap.Site
}

// begin is a run at tick 0 and its first frame, which the session has not yet
// followed. traceTo may be nil.
func (s *Scenario) begin(traceTo io.Writer) (*session, engine.Frame, error) {
	e, first, err := engine.New(s.plan, scenario.Injector(s.plan))
	if err != nil {
		return nil, engine.Frame{}, invalid(s.name, err)
	}
	run := &session{engine: e, record: report.NewRecorder(s.plan, s.file(), s.variant), last: first.Site}
	if traceTo != nil {
		run.trace = trace.New(traceTo, s.plan)
	}
	return run, first, nil
}

// follow takes a frame into account.
func (r *session) follow(f engine.Frame) {
	r.last = f.Site
	r.record.Frame(f.Events, f.Site)
	if r.trace != nil {
		r.trace.Frame(f.Events, f.Site)
	}
}

// runTo plays to a tick, or until done is closed; it says whether it got there.
func (r *session) runTo(to vtime.Tick, done <-chan struct{}) bool {
	for r.engine.Now() < to {
		select {
		case <-done:
			return false
		default:
			r.follow(r.engine.Step(to))
		}
	}
	return true
}

// finish judges the run. The error is that of writing the trace.
func (r *session) finish(interrupted bool) (*Result, error) {
	verdicts := r.engine.Finish()
	if r.trace != nil {
		r.trace.End(r.last)
		if err := r.trace.Err(); err != nil {
			return nil, ioError("write", "the trace", err)
		}
	}
	return newResult(r.record.Finish(r.last, verdicts, interrupted)), nil
}
