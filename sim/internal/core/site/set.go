package site

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
)

// set makes all assignments of c or none. A test identity needs the spin lock
// beside it in the same request (RFC 1628 upsTestId).
func (s *Site) set(c snap.Command) snap.Result {
	for i, a := range c.Sets {
		r := s.check(a)
		if r.Status == snap.Done && a.Var == snap.VarTestID && !assigns(c.Sets, snap.VarTestSpinLock) {
			r = snap.Result{Status: snap.Inconsistent, Reason: "a test needs the spin lock in the same request"}
		}
		if r.Status == snap.Done && repeats(c.Sets[:i], a.Var) {
			r = snap.Result{Status: snap.Inconsistent, Reason: fmt.Sprintf("%s stands twice in the request", a.Var)}
		}
		if r.Status != snap.Done {
			r.Index = i
			return r
		}
	}
	for _, a := range c.Sets {
		s.ups.Apply(s.now, a)
		s.card.Apply(a)
	}
	return snap.Result{}
}

func (s *Site) check(a snap.Assignment) snap.Result {
	if r, handled := s.ups.Check(a); handled {
		return r
	}
	if r, handled := s.card.Check(a); handled {
		return r
	}
	return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no variable %q", a.Var)}
}

func assigns(sets []snap.Assignment, v snap.Var) bool { return repeats(sets, v) }

func repeats(before []snap.Assignment, v snap.Var) bool {
	for _, a := range before {
		if a.Var == v {
			return true
		}
	}
	return false
}
