package expect

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// MaxConditions is how many different conditions one scenario may use, in
// expectations and timeline entries together.
const MaxConditions = 256

// Signature tells which conditions hold, one bit each. Two equal signatures
// mean that no condition changed.
type Signature [MaxConditions / 64]uint64

// Has says whether the condition in that slot holds.
func (s *Signature) Has(slot int) bool { return s[slot/64]&(1<<(slot%64)) != 0 }

// conditions are the different conditions of a scenario by slot.
type conditions struct {
	list  []*plan.Cond // nil: a slot that nobody uses any longer
	bench *asked       // nil: the bench never asked
}

// slot is the place of c, shared with an earlier condition of the same text;
// -1 for no condition.
func (cs *conditions) slot(c *plan.Cond) (int, error) {
	if c == nil {
		return -1, nil
	}
	free := -1
	for i, have := range cs.list {
		switch {
		case have == nil:
			free = i
		case have == c || have.Text == c.Text && c.Text != "":
			return i, nil
		}
	}
	switch {
	case free >= 0:
		cs.list[free] = c
		return free, nil
	case len(cs.list) == MaxConditions:
		return -1, fmt.Errorf("more than %d different conditions", MaxConditions)
	}
	cs.list = append(cs.list, c)
	return len(cs.list) - 1, nil
}

func (cs *conditions) signature(site *snap.Site) Signature {
	var sig Signature
	for i, c := range cs.list {
		if c != nil && c.Eval(site) {
			sig[i/64] |= 1 << (i % 64)
		}
	}
	return sig
}
