package engine

import (
	"fmt"

	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Clock is how time goes in a loop.
type Clock struct {
	Now     vtime.Tick
	Speed   float64 // simulated seconds in a real one, while it runs
	Running bool    // false: it stands
	Moving  bool    // it stands for the pacer, and somebody advances it
	Ended   bool    // the plan has come to its end
}

// Turn changes how time goes; nil leaves a thing as it is.
type Turn struct {
	Running *bool
	Speed   *float64
	By      snap.Actor
}

// Begin says how the pacer goes at the start. Call it before Run.
func (l *Loop) Begin(speed float64, running bool) {
	l.clock.Store(&Clock{Speed: speed, Running: running})
}

// Clock is how time goes now.
func (l *Loop) Clock() Clock {
	c := *l.clock.Load()
	c.Now = l.Site().Tick
	if c.Running {
		c.Now = l.Now()
	}
	c.Ended = c.Now >= l.planned
	return c
}

// Turn changes how time goes, and returns how it goes then. It is refused with Busy
// while time is being advanced.
func (l *Loop) Turn(t Turn) (clock Clock, result snap.Result) {
	refused := l.ask(func(e *Engine) {
		if l.mover != nil {
			result = beingAdvanced
			return
		}
		if l.catchUp(e); l.over(e) {
			result = gone
			return
		}
		l.turn(e, t)
		clock = l.Clock()
	})
	if refused.Status != snap.Done {
		return clock, refused
	}
	return clock, result
}

var beingAdvanced = snap.Result{Status: snap.Inconsistent, Reason: "time is being advanced: wait until that is done, or close its request"}

func (l *Loop) turn(e *Engine, t Turn) {
	c := *l.clock.Load()
	if t.Running != nil {
		c.Running = *t.Running
	}
	if t.Speed != nil {
		c.Speed = *t.Speed
	}
	what := "stand"
	if c.Running {
		what = fmt.Sprintf("run at %g", c.Speed)
	}
	l.note(e, snap.OpMark, what, t.By)
	l.set(e, c)
}

// set has the pacer go on from here.
func (l *Loop) set(e *Engine, c Clock) {
	l.clock.Store(&c)
	l.pacer.Turn(e.Now(), c.Speed, c.Running)
}

// ask has do called in the loop's goroutine and waits until it was.
func (l *Loop) ask(do func(e *Engine)) snap.Result {
	done := make(chan struct{})
	if refused := l.put(request{ask: func(e *Engine) { defer close(done); do(e) }}); refused.Status != snap.Done {
		return refused
	}
	select {
	case <-done:
		return snap.Result{}
	case <-l.ended:
	}
	select { // it may have been the last that was done
	case <-done:
		return snap.Result{}
	default:
		return gone
	}
}

// Standing is how the expectations stand, at which time, and whether that is their
// last word.
func (l *Loop) Standing() (verdicts []expect.Verdict, at vtime.Tick, final bool, refused snap.Result) {
	refused = l.ask(func(e *Engine) {
		verdicts, at, final = e.Standing(), e.Now(), e.verdicts != nil
	})
	return verdicts, at, final, refused
}
