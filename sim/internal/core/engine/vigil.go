package engine

import (
	"context"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// MaxEnd is how long a session may be at most: ten years.
const MaxEnd = 10 * 366 * 24 * vtime.Hour

// Wait is what somebody waits for.
type Wait struct {
	// For is how much simulated time may pass. If it is too much for the session, what
	// is left counts.
	For vtime.Tick
	// Until is a condition of the expression language that ends it before that; "": none.
	Until string
	// Advance has time go as fast as it can, and stand afterwards. Else it goes as it
	// goes.
	Advance bool
	By      snap.Actor
}

// Outcome is what came of waiting.
type Outcome struct {
	Now    vtime.Tick
	Held   bool   // the condition holds
	Values string // of the variables in the condition
	Ended  bool   // the plan has come to its end
}

// vigil is a wait under way.
type vigil struct {
	Wait
	limit  vtime.Tick // it ends there
	done   <-chan struct{}
	answer chan verdict
}

// left says whether nobody waits for the answer any more.
func (v *vigil) left() bool {
	select {
	case <-v.done:
		return true
	default:
		return false
	}
}

type verdict struct {
	Outcome
	refused snap.Result
}

// Wait waits as w says, or until done is closed; then time that was advanced stands
// where it is, and the outcome is of no use. It is refused with WrongValue for a
// condition that does not compile, with Inconsistent while somebody else advances
// time.
func (l *Loop) Wait(done <-chan struct{}, w Wait) (Outcome, snap.Result) {
	v := &vigil{Wait: w, done: done, answer: make(chan verdict, 1)}
	if refused := l.ask(func(e *Engine) { l.begin(e, v) }); refused.Status != snap.Done {
		return Outcome{}, refused
	}
	select {
	case a := <-v.answer:
		return a.Outcome, a.refused
	case <-l.ended: // which answers all that wait
	case <-done:
		l.ask(func(e *Engine) { l.give(e, v) }) // should too much wait: the next step sees it
	}
	select {
	case a := <-v.answer:
		return a.Outcome, a.refused
	default:
		return Outcome{}, gone
	}
}

// begin answers v at once, or adds it to those that wait.
func (l *Loop) begin(e *Engine, v *vigil) {
	if v.Advance && l.mover != nil {
		v.answer <- verdict{refused: beingAdvanced}
		return
	}
	if l.catchUp(e); l.over(e) {
		v.answer <- verdict{refused: gone}
		return
	}
	if v.Until != "" {
		if refused := l.note(e, snap.OpWatch, v.Until, v.By); refused.Status != snap.Done {
			v.answer <- verdict{refused: refused}
			return
		}
	}
	v.limit = min(e.Now()+min(v.For, MaxEnd), MaxEnd)
	if !l.on {
		v.limit = min(v.limit, e.plan.RunFor)
	}
	l.vigils = append(l.vigils, v)
	if v.Advance {
		l.stand(e, v)
	}
	l.settle(e)
}

// stand takes time out of the pacer's hands for v, or gives it back standing.
func (l *Loop) stand(e *Engine, v *vigil) {
	l.mover = v
	c := *l.clock.Load()
	c.Running, c.Moving = false, v != nil
	l.set(e, c)
}

// move takes one step, or does what somebody asks in between. It says whether the
// run goes on.
func (l *Loop) move(ctx context.Context, e *Engine) bool {
	select {
	case <-ctx.Done():
		return false
	case r := <-l.inbox:
		l.take(e, r)
	default:
		l.step(e, vtime.Never)
	}
	return true
}

// limit is how far e may go before somebody has to be told.
func (l *Loop) limit() vtime.Tick {
	limit := vtime.Never
	for _, v := range l.vigils {
		limit = min(limit, v.limit)
	}
	return limit
}

// settle tells those whose wait is over.
func (l *Loop) settle(e *Engine) {
	for i := 0; i < len(l.vigils); {
		v := l.vigils[i]
		if held, _ := e.Holds(v.Until); !held && e.Now() < v.limit && !v.left() {
			i++
			continue
		}
		l.give(e, v)
	}
}

// give ends a vigil that waits, and answers it.
func (l *Loop) give(e *Engine, v *vigil) {
	i := slices.Index(l.vigils, v)
	if i < 0 {
		return // it was answered
	}
	l.vigils = slices.Delete(l.vigils, i, i+1)
	a := verdict{Outcome: Outcome{Now: e.Now(), Ended: e.Ended()}}
	if v.Until == "" {
		l.note(e, snap.OpMark, "stand", v.By)
	} else {
		a.Held, a.Values = e.Holds(v.Until)
		l.note(e, snap.OpUnwatch, v.Until, v.By)
	}
	if l.mover == v {
		l.stand(e, nil)
	}
	v.answer <- a
}

// leave ends the loop: what somebody waits for will not come any more.
func (l *Loop) leave(e *Engine) {
	for _, v := range l.vigils {
		a := verdict{Outcome: Outcome{Now: e.Now(), Ended: e.Ended()}}
		if a.Held, a.Values = e.Holds(v.Until); !a.Ended {
			a.refused = gone
		}
		v.answer <- a
	}
	l.vigils = nil
	l.End()
}
