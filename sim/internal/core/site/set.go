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
		if r.Status == snap.Done && repeats(c.Sets[:i], a) {
			r = snap.Result{Status: snap.Inconsistent, Reason: fmt.Sprintf("%s stands twice in the request", a.Var)}
		}
		if r.Status != snap.Done {
			r.Index = i
			return r
		}
	}
	s.card.Told(s.now, c.By, c.Sets)
	for _, a := range c.Sets {
		s.apply(c.By, a)
	}
	return snap.Result{}
}

func (s *Site) apply(by snap.Actor, a snap.Assignment) {
	if a.Var == snap.VarGroupOrder {
		if order := snap.GroupOrder(a.Int); order != snap.OrderNone {
			s.Switch(by, s.groups[a.Row-1].cfg.Name, order)
		}
		return
	}
	if gap := s.ups.Apply(s.now, a); gap > 0 {
		s.gapHosts(s.now, gap)
	}
	s.card.Apply(a)
	if device.Keeps(a) {
		s.card.KeepUnitSet(a)
	}
}

func (s *Site) check(a snap.Assignment) snap.Result {
	if a.Var == snap.VarGroupOrder {
		return s.checkGroupOrder(a)
	}
	if why := s.refusedRemotely(a); why != "" {
		return snap.Result{Status: snap.Inconsistent, Reason: why}
	}
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

// repeats says whether what a sets is among sets.
func repeats(sets []snap.Assignment, a snap.Assignment) bool {
	for _, other := range sets {
		if other.Var == a.Var && other.Row == a.Row {
			return true
		}
	}
	return false
}

// checkGroupOrder says whether a group could be switched as ordered.
func (s *Site) checkGroupOrder(a snap.Assignment) snap.Result {
	switch {
	case a.Row < 1 || a.Row > len(s.groups):
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("there is no outlet group %d", a.Row)}
	case a.Int < int64(snap.OrderNone) || a.Int > int64(snap.OrderCycle):
		return snap.Result{Status: snap.WrongValue, Reason: "2 is off, 3 is on, 4 is cycle"}
	case a.Int == int64(snap.OrderNone):
		return snap.Result{}
	}
	return s.maySwitch(a.Row-1, snap.GroupOrder(a.Int))
}
