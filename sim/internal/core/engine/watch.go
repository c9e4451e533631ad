package engine

import (
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/snap"
)

// CompileWith lets the bench ask for conditions, which compile reads. Call it
// before the first command.
func (e *Engine) CompileWith(compile Compiler) { e.compile = compile }

// attend carries out what is the bench's own: it changes nothing of the site, but
// the instants at which the run stops are others from now on.
func (e *Engine) attend(c snap.Command) snap.Result {
	e.judged.view = 0
	switch c.Op {
	case snap.OpWatch:
		return e.watch(c.Text)
	case snap.OpUnwatch:
		if !e.tracker.Forget(c.Text) {
			return snap.Result{Status: snap.WrongValue, Reason: "nobody watches that condition"}
		}
	}
	return snap.Result{}
}

func (e *Engine) watch(text string) snap.Result {
	if e.compile == nil {
		return snap.Result{Status: snap.WrongValue, Reason: "conditions cannot be watched here"}
	}
	cond, err := e.compile(text)
	if err != nil {
		return snap.Result{Status: snap.WrongValue, Reason: err.Error()}
	}
	if err := e.tracker.Ask(&cond); err != nil {
		return snap.Result{Status: snap.Busy, Reason: err.Error()}
	}
	return snap.Result{}
}

// Holds says whether a watched condition holds now, and what its variables are.
func (e *Engine) Holds(text string) (holds bool, values string) {
	cond, slot := e.tracker.Asked(text)
	if text == "" || cond == nil {
		return false, ""
	}
	if cond.Show != nil {
		values = cond.Show(e.site.View())
	}
	conds := e.conds()
	return conds.Has(slot), values
}

// Standing is how every expectation stands now; see [expect.Tracker.Standing].
func (e *Engine) Standing() []expect.Verdict {
	if e.verdicts != nil {
		return e.verdicts
	}
	return e.tracker.Standing(e.site.View())
}
