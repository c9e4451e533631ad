package engine

import (
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/site"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Frame is what one step came to. Everything in it is valid until the next call
// of a method of the engine; see [Frame.Clone] for what may be kept.
type Frame struct {
	Tick    vtime.Tick
	End     vtime.Tick // of the plan
	Site    *snap.Site
	Events  []site.Event
	Effects []snap.Effect
}

// Injector reads a timeline entry that the bench sends as text.
type Injector func(text string) (plan.Entry, error)

// Compiler reads a condition that the bench sends as text. Its error is one line.
type Compiler func(text string) (plan.Cond, error)

// Engine is one run. It is not safe for concurrent use.
type Engine struct {
	plan    *plan.Plan
	site    *site.Site
	tracker *expect.Tracker
	inject  Injector
	compile Compiler // nil: the bench may not ask for conditions

	verdicts []expect.Verdict // once the plan has ended
	judged   struct {         // the conditions of the view when it was last looked at
		view  uint64 // which, see [site.Site.Filled]; 0: none
		conds expect.Signature
	}
}

// New is the run of p at tick 0, and its first frame. Without an injector
// [snap.OpInject] is refused.
func New(p *plan.Plan, inject Injector) (*Engine, Frame, error) {
	tracker, err := expect.New(p.Expects, p.Entries)
	if err != nil {
		return nil, Frame{}, err
	}
	e := &Engine{plan: p, site: site.New(p), tracker: tracker, inject: inject}
	return e, e.frame(), nil
}

// Now is the tick that the run has come to.
func (e *Engine) Now() vtime.Tick { return e.site.Now() }

// Ended says whether the run has come to its end.
func (e *Engine) Ended() bool { return e.Now() >= e.plan.RunFor }

// Next is the next instant of the run's own grid.
func (e *Engine) Next() vtime.Tick {
	now := e.Now()
	next := min(e.site.Next(), e.tracker.Next(now))
	if now < e.plan.RunFor {
		next = min(next, e.plan.RunFor)
	}
	return next
}

// Upcoming is the next tick at which the site will show something new if nobody
// asks for anything: [Engine.Next], or a crossing before it.
func (e *Engine) Upcoming() vtime.Tick {
	now, next := e.Now(), e.Next()
	dt := e.cross(next - now)
	e.site.Rest()
	return now + dt
}

// Step moves to the next instant of the grid, to the tick at which something
// crosses a threshold, or to until, whichever comes first.
func (e *Engine) Step(until vtime.Tick) Frame {
	now := e.Now()
	to := min(e.Next(), until)
	if to > now {
		e.cross(to - now)
		e.site.Commit()
	}
	e.site.Settle(e.site.Now())
	return e.frame()
}

// Boots counts the starts of the card, the one that has been begun included.
func (e *Engine) Boots() uint32 { return e.site.Boots() }

// Do carries out c at the present instant.
func (e *Engine) Do(c snap.Command) (snap.Result, Frame) {
	result := e.do(c)
	e.site.Settle(e.Now())
	return result, e.frame()
}

func (e *Engine) do(c snap.Command) snap.Result {
	switch {
	case c.Op == snap.OpMark, c.Op == snap.OpWatch, c.Op == snap.OpUnwatch:
		return e.attend(c)
	case c.Op != snap.OpInject || e.inject == nil:
		return e.site.Do(c)
	}
	entry, err := e.inject(c.Text)
	if err != nil {
		return snap.Result{Status: snap.WrongValue, Reason: err.Error()}
	}
	e.site.Inject(entry)
	return snap.Result{}
}

func (e *Engine) frame() Frame {
	view := e.site.View()
	if e.verdicts == nil {
		e.tracker.ObserveAs(view, e.conds())
		if e.Ended() { // what comes after the end of the plan is not judged
			e.verdicts = e.tracker.Finish(view)
		}
	}
	events, effects := e.site.Take()
	return Frame{Tick: e.Now(), End: e.plan.RunFor, Site: view, Events: events, Effects: effects}
}

// signs tells two sites apart that differ by more than values.
type signs struct {
	site  site.Signature
	conds expect.Signature
}

// cross tries the step of dt and leaves it tried; if something changes on the
// way it leaves the shortest step at which the change shows, to the tick. It
// returns the step that it left.
func (e *Engine) cross(dt vtime.Tick) vtime.Tick {
	present := signs{site: e.site.Present(), conds: e.conds()}
	if e.try(dt) == present {
		return dt
	}
	same, changed := vtime.Tick(0), dt
	for changed-same > 1 {
		mid := same + (changed-same)/2
		if e.try(mid) == present {
			same = mid
		} else {
			changed = mid
		}
	}
	e.try(changed)
	return changed
}

func (e *Engine) try(dt vtime.Tick) signs {
	e.site.Try(dt)
	return signs{site: e.site.Signature(), conds: e.conds()}
}

// conds are the conditions that hold for the view, looked at once for each.
func (e *Engine) conds() expect.Signature {
	if j := &e.judged; j.view != e.site.Filled() {
		j.view, j.conds = e.site.Filled(), e.tracker.Signature(e.site.View())
	}
	return e.judged.conds
}

// Finish judges the run: at the end of its plan, or where it was stopped before
// that. What only the rest of the run could have decided was then not reached.
func (e *Engine) Finish() []expect.Verdict {
	if e.verdicts == nil {
		e.verdicts = e.tracker.Abandon(e.site.View())
	}
	return e.verdicts
}

// Farewell is what the memory of the card of each unit has to take at the end of the
// session beside what the frames had, nil for nothing.
func (e *Engine) Farewell() []*snap.Keep { return e.site.Farewell() }

// Keep is what the memory of the card of that unit has to take, nil for nothing.
func (f Frame) Keep(unit int) *snap.Keep {
	for i := range f.Effects {
		if f.Effects[i].Kind == snap.EffectKeep && f.Effects[i].Unit == unit {
			return f.Effects[i].Keep
		}
	}
	return nil
}

// Clone is a copy of the site in f that never changes.
func (f Frame) Clone() *snap.Site {
	c := *f.Site
	c.Hosts = append([]snap.Host(nil), c.Hosts...)
	c.Groups = append([]snap.Group(nil), c.Groups...)
	c.Net.Peers = append([]snap.PeerPath(nil), c.Net.Peers...)
	c.Net.Switches = append([]snap.SwitchState(nil), c.Net.Switches...)
	c.Units = nil
	for _, u := range f.Site.Units {
		c.Units = append(c.Units, Frame{Site: u}.Clone())
	}
	return &c
}
