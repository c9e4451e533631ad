package expect

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// Standing is how every expectation stands at site, in their order. It decides
// nothing; of one that is still open Because says what it waits for, and At is 0.
func (t *Tracker) Standing(site *snap.Site) []Verdict {
	verdicts := make([]Verdict, len(t.claims))
	for i := range t.claims {
		c := &t.claims[i]
		verdicts[i] = c.verdict()
		if c.state == Open {
			verdicts[i].Because = c.pending(t, site)
		}
	}
	return verdicts
}

// pending is what an open claim waits for.
func (c *claim) pending(t *Tracker, site *snap.Site) string {
	switch c.e.Form {
	case plan.At:
		return fmt.Sprintf("it is judged at %v", c.e.Time)
	case plan.AtEnd:
		return "it is judged at the end; " + c.present(t, site)
	case plan.By:
		return fmt.Sprintf("it has time until %v%s", c.e.Time, c.values(site))
	}
	switch {
	case c.closed:
		return "its window has closed"
	case !c.open:
		return "its window has not opened: " + c.e.After.Text + " was not true yet"
	}
	switch c.e.Form {
	case plan.Always:
		return fmt.Sprintf("it has held since %v", c.opened)
	case plan.NeverHolds:
		return fmt.Sprintf("it has not held since %v", c.opened)
	case plan.Within:
		return fmt.Sprintf("it has time until %v%s", c.opened+c.e.Time, c.values(site))
	}
	if c.onsets > 0 {
		return fmt.Sprintf("it became true at %v, and has not again", c.onset)
	}
	return fmt.Sprintf("it has not become true since %v%s", c.opened, c.values(site))
}

func (c *claim) present(t *Tracker, site *snap.Site) string {
	if t.last.Has(c.that) {
		return "it holds now"
	}
	return "it does not hold now" + c.values(site)
}
