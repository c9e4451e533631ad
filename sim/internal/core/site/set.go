package site

import (
	"fmt"

	"ridethrough/sim/internal/core/device"
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
		if r.Status == snap.Done && a.Var == snap.VarTestID && assigns(c.Sets, snap.VarReboot) {
			r = snap.Result{Status: snap.Inconsistent, Reason: "a test and a reboot exclude each other"}
		}
		if r.Status == snap.Done && assigns(c.Sets[:i], a.Var) {
			r = snap.Result{Status: snap.Inconsistent, Reason: fmt.Sprintf("%s stands twice in the request", a.Var)}
		}
		if r.Status != snap.Done {
			r.Index = i
			return r
		}
	}
	for _, a := range c.Sets {
		s.apply(a)
	}
	return snap.Result{}
}

func (s *Site) apply(a snap.Assignment) {
	if gap := s.ups.Apply(s.now, a); gap > 0 {
		s.gapHosts(s.now, gap)
	}
	s.card.Apply(s.now, a)
	if device.Keeps(a) {
		s.card.KeepUnitSet(a)
	}
}

func (s *Site) check(a snap.Assignment) snap.Result {
	if r, handled := s.ups.Check(a); handled {
		if lost, is := s.card.RefusesUnit(); is {
			return lost
		}
		return r
	}
	if r, handled := s.card.Check(a); handled {
		return r
	}
	return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no variable %q", a.Var)}
}

func assigns(sets []snap.Assignment, v snap.Var) bool {
	for _, a := range sets {
		if a.Var == v {
			return true
		}
	}
	return false
}
