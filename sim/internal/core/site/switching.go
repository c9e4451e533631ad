package site

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// cycleOff is how long a group that is cycled stays off at least, so that every
// machine on it sees that its power went: common practice is 10 to 30 s.
const cycleOff = 10 * vtime.Second

const lockedOut = "switching from remote is locked out at the unit"

// Switch has somebody order an outlet group off, on, or off and on again. It stays
// as ordered over outages, until somebody orders something else.
func (s *Site) Switch(by snap.Actor, name string, order snap.GroupOrder) snap.Result {
	i := s.groupNamed(name)
	if i < 0 {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("there is no outlet group %q", name)}
	}
	if r := s.maySwitch(i, order); r.Status != snap.Done {
		s.record(by, fmt.Sprintf("group %s %s refused: %s", name, order, r.Reason))
		return r
	}
	s.record(by, fmt.Sprintf("group %s ordered %s", name, order))
	s.orderGroup(i, order)
	return snap.Result{}
}

// record puts what somebody did into trace and journal.
func (s *Site) record(by snap.Actor, text string) {
	text += " by " + by.Who()
	s.note("outlets", text)
	s.card.Record(s.now, text)
}

func (s *Site) groupNamed(name string) int {
	for i := range s.groups {
		if s.groups[i].cfg.Name == name {
			return i
		}
	}
	return -1
}

// maySwitch says whether the order can be given now.
func (s *Site) maySwitch(i int, order snap.GroupOrder) snap.Result {
	if lost, is := s.card.RefusesUnit(); is {
		return lost
	}
	g := &s.groups[i]
	switch {
	case !s.card.Running():
		return snap.Result{Status: snap.Busy, Reason: "the card does not answer"}
	case order < snap.OrderOff || order > snap.OrderCycle:
		return snap.Result{Status: snap.WrongValue, Reason: "expected off, on or cycle"}
	case !s.own(i):
		return snap.Result{Status: snap.Inconsistent, Reason: "it is fed past the unit, which cannot switch it"}
	case s.locked:
		return snap.Result{Status: snap.Inconsistent, Reason: lockedOut}
	case order == snap.OrderCycle && !g.on:
		return snap.Result{Status: snap.Inconsistent, Reason: "it is off: order it on"}
	}
	return snap.Result{}
}

func (s *Site) orderGroup(i int, order snap.GroupOrder) {
	g := &s.groups[i]
	g.held, g.backAt = order != snap.OrderOn, vtime.Never
	switch order {
	case snap.OrderCycle:
		g.backAt = s.now + max(cycleOff, g.set.MinOff)
	case snap.OrderOn:
		s.hurry(g)
	}
	s.card.KeepHeld(s.heldGroups())
	s.touch()
}

// hurry has a group come on without its delay, which is there for the output
// coming on.
func (s *Site) hurry(g *group) {
	if !g.on && s.ups.OutputOn() && s.ups.Charge(&s.ups.Physics) >= float64(g.set.MinPct) {
		g.onAt = max(s.now, g.earliest())
	}
}

// endCycle has a group come on again that was cycled. A lock-out that came between
// leaves it off.
func (s *Site) endCycle(now vtime.Tick, g *group) {
	if g.backAt > now {
		return
	}
	g.backAt = vtime.Never
	if s.locked {
		s.note("outlets", "group "+g.cfg.Name+" stays off: "+lockedOut)
		s.card.KeepHeld(s.heldGroups())
		return
	}
	g.held = false
	s.hurry(g)
	s.card.KeepHeld(s.heldGroups())
}

// heldGroups are the names of the groups that stay off by order. One that is being
// cycled does not.
func (s *Site) heldGroups() []string {
	names := []string{}
	for i := range s.groups {
		if g := &s.groups[i]; s.own(i) && g.held && g.backAt == vtime.Never {
			names = append(names, g.cfg.Name)
		}
	}
	return names
}

// restoreHeld has the groups be off that were ordered off in an earlier life.
func (s *Site) restoreHeld() {
	for _, name := range s.card.Held() {
		i := s.groupNamed(name)
		if i < 0 || !s.own(i) {
			continue
		}
		s.groups[i].held, s.groups[i].on, s.groups[i].offAt = true, false, 0
	}
	for i := range s.hosts {
		h := &s.hosts[i]
		if !s.fed(h) {
			h.powered, h.state = false, snap.HostOff
		}
	}
}

// lockOut has somebody at the unit refuse, or allow, switching from remote. It
// keeps nobody safe: outlets that are off are not isolated.
func (s *Site) lockOut(now vtime.Tick, on bool) {
	s.locked = on
	text := "switching from remote allowed at the unit"
	if on {
		text = lockedOut
	}
	s.note("bench", text)
	s.card.Record(now, text)
}

// refusedRemotely says why a countdown cannot be ordered from remote now. To call
// one off is always allowed.
func (s *Site) refusedRemotely(a snap.Assignment) string {
	switch a.Var {
	case snap.VarShutdownAfter, snap.VarStartupAfter, snap.VarReboot:
		if s.locked && a.Int >= 0 {
			return lockedOut
		}
	}
	return ""
}
