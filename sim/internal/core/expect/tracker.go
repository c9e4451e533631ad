package expect

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Tracker follows the expectations of one run. It is not safe for concurrent
// use; the engine's goroutine owns it.
type Tracker struct {
	conds   conditions
	claims  []claim
	last    Signature // of the step before
	started bool
}

// New follows expects and watches the conditions of entries. It fails if they
// use more than MaxConditions different conditions.
func New(expects []plan.Expect, entries []plan.Entry) (*Tracker, error) {
	t := &Tracker{claims: make([]claim, len(expects))}
	for i := range expects {
		c, err := t.claim(&expects[i])
		if err != nil {
			return nil, fmt.Errorf("expect: %q: %w", expects[i].Name, err)
		}
		t.claims[i] = c
	}
	for i := range entries {
		if err := t.Watch(&entries[i]); err != nil {
			return nil, err
		}
	}
	return t, nil
}

func (t *Tracker) claim(e *plan.Expect) (claim, error) {
	c := claim{e: e, form: Form(e)}
	var err error
	if c.that, err = t.conds.slot(&e.That); err != nil {
		return c, err
	}
	if c.after, err = t.conds.slot(e.After); err != nil {
		return c, err
	}
	c.until, err = t.conds.slot(e.Until)
	return c, err
}

// Watch adds the condition of an entry, for one that the bench injects.
func (t *Tracker) Watch(e *plan.Entry) error {
	if _, err := t.conds.slot(e.When); err != nil {
		return fmt.Errorf("expect: entry of line %d: %w", e.Line, err)
	}
	return nil
}

// Signature is which of all conditions hold for site. It changes nothing: the
// engine may ask about sites that it then discards.
func (t *Tracker) Signature(site *snap.Site) Signature { return t.conds.signature(site) }

// Observe takes site into account: at tick 0, at every grid point and at the
// end, in order of time. A second call for a tick replaces nothing; it counts
// as one more step, so that what happens within a tick is seen.
func (t *Tracker) Observe(site *snap.Site) { t.ObserveAs(site, t.conds.signature(site)) }

// ObserveAs is Observe for a site whose signature is known to be sig.
func (t *Tracker) ObserveAs(site *snap.Site, sig Signature) {
	for i := range t.claims {
		c := &t.claims[i]
		if c.state == Open {
			c.step(t, sig, site)
		}
	}
	t.last, t.started = sig, true
}

// Next is the first tick after now that an expectation has to be judged at, so
// that the engine can put a grid point there; vtime.Never if there is none.
func (t *Tracker) Next(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	for i := range t.claims {
		c := &t.claims[i]
		if due := c.due(); c.state == Open && due > now && due < next {
			next = due
		}
	}
	return next
}

// Abandon is Finish for a run that was stopped before its end, at its last site:
// what can only be told at the end, or may yet become true once, was not reached.
func (t *Tracker) Abandon(site *snap.Site) []Verdict {
	t.Observe(site)
	for i := range t.claims {
		c := &t.claims[i]
		pending := c.e.Form == plan.AtEnd || c.e.Form == plan.Once && c.onsets == 0
		if c.state == Open && pending {
			c.decide(NotReached, site.Tick, fmt.Sprintf("the run was stopped at %v", site.Tick))
		}
	}
	return t.Finish(site)
}

// Finish closes the run with its last site and returns a verdict for every
// expectation, in their order. It observes the site, which may have been
// observed before.
func (t *Tracker) Finish(site *snap.Site) []Verdict {
	t.Observe(site)
	verdicts := make([]Verdict, len(t.claims))
	for i := range t.claims {
		c := &t.claims[i]
		if c.state == Open {
			c.finish(t, site)
		}
		verdicts[i] = c.verdict()
	}
	return verdicts
}

func (c *claim) verdict() Verdict {
	return Verdict{Name: c.e.Name, Form: c.form, State: c.state, At: c.at, Because: c.because}
}
