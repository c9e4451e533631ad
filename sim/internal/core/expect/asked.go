package expect

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
)

// MaxAsked is how many conditions of the bench are watched at once.
const MaxAsked = 32

// asked are the conditions that the bench watches for the time being.
type asked struct {
	own  int            // the conditions of the scenario have the slots below
	text map[string]int // how often the bench asked for each
}

// Ask watches c until as many calls of [Tracker.Forget] with its text. Conditions
// of the scenario with the same text are one with it.
func (t *Tracker) Ask(c *plan.Cond) error {
	if t.conds.bench == nil {
		t.conds.bench = &asked{own: len(t.conds.list), text: map[string]int{}}
	}
	a := t.conds.bench
	if a.text[c.Text] == 0 {
		if len(a.text) == MaxAsked {
			return fmt.Errorf("more than %d conditions are waited for", MaxAsked)
		}
		if _, err := t.conds.slot(c); err != nil {
			return err
		}
	}
	a.text[c.Text]++
	return nil
}

// Forget ends what one call of [Tracker.Ask] began, and says whether there was one.
func (t *Tracker) Forget(text string) bool {
	a := t.conds.bench
	if a == nil || a.text[text] == 0 {
		return false
	}
	if a.text[text]--; a.text[text] > 0 {
		return true
	}
	delete(a.text, text)
	if i, _ := t.conds.find(text); i >= a.own {
		t.conds.list[i] = nil
	}
	return true
}

// Asked is the condition with that text that is watched, and its slot; nil for
// none.
func (t *Tracker) Asked(text string) (*plan.Cond, int) {
	i, c := t.conds.find(text)
	return c, i
}

func (cs *conditions) find(text string) (int, *plan.Cond) {
	for i, c := range cs.list {
		if c != nil && c.Text == text {
			return i, c
		}
	}
	return -1, nil
}
