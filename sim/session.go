package sim

import (
	"io"

	"ridethrough/sim/internal/core/dossier"
	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/trace"
	"ridethrough/sim/internal/core/vtime"
)

// session follows every frame of a run, however it is driven, and comes to its
// result.
type session struct {
	scenario *Scenario
	record   *report.Recorder
	trace    *trace.Writer // nil: nobody wants one
	tape     *dossier.Tape // nil: nobody wants a report
	sampler  *sampler      // nil: nobody reads the card
}

// session is one for a new run of s, with a report if that is wanted. traceTo may be
// nil.
func (s *Scenario) session(traceTo io.Writer, report bool) session {
	r := session{scenario: s, record: newRecorder(s)}
	if traceTo != nil {
		r.trace = trace.New(traceTo, s.plan)
	}
	if report {
		r.tape = dossier.NewTape(s.plan)
	}
	return r
}

// see takes one frame into account.
func (r session) see(f engine.Frame) {
	if r.sampler != nil {
		r.sampler.see(f)
	}
	r.record.Frame(f.Events, f.Site)
	if r.trace != nil {
		r.trace.Frame(f.Events, f.Site)
	}
	if r.tape != nil {
		r.tape.See(f.Site)
	}
}

// conclude closes the run at its last site. The error is that of writing the
// trace.
func (r session) conclude(last *snap.Site, verdicts []expect.Verdict, interrupted bool) (*Result, error) {
	if r.trace != nil {
		r.trace.End(last)
		if err := r.trace.Err(); err != nil {
			return nil, ioError("write", "the trace", err)
		}
	}
	result := newResult(r.record.Finish(last, verdicts, interrupted))
	if r.tape != nil {
		result.dossier = dossier.New(r.scenario.plan, r.scenario.text, program(), r.tape, result.report)
		if one := r.scenario.ofStudy; one != nil {
			result.dossier.Study, result.dossier.Drawn = one.name, one.drawn
		}
	}
	return result, nil
}

func newRecorder(s *Scenario) *report.Recorder {
	return report.NewRecorder(s.plan, s.file(), s.variant)
}

// run is a session with the engine that it runs on.
type run struct {
	session
	engine *engine.Engine
	last   *snap.Site
}

// begin is a run of s at tick 0, and its first frame, still to be seen.
func (s *Scenario) begin(traceTo io.Writer, report bool) (*run, engine.Frame, error) {
	e, first, err := engine.New(s.plan, scenario.Injector(s.plan))
	if err != nil {
		return nil, engine.Frame{}, invalid(s.name, err)
	}
	e.CompileWith(scenario.Conditions(s.plan))
	return &run{session: s.session(traceTo, report), engine: e}, first, nil
}

func (r *run) see(f engine.Frame) {
	r.last = f.Site
	r.session.see(f)
}

// to plays to a tick, or until done is closed; it says whether it got there.
func (r *run) to(tick vtime.Tick, done <-chan struct{}) bool {
	for r.engine.Now() < tick {
		select {
		case <-done:
			return false
		default:
			r.see(r.engine.Step(tick))
		}
	}
	return true
}

// do plays one recorded command.
func (r *run) do(entry engine.Entry) {
	_, frame := r.engine.Do(entry.Command)
	r.see(frame)
}

func (r *run) finish(interrupted bool) (*Result, error) {
	return r.conclude(r.last, r.engine.Finish(), interrupted)
}
