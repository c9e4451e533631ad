package site

import (
	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// bySchedule is who switches by the schedule.
var bySchedule = snap.Actor{Surface: "schedule"}

// runSchedule carries out what the card's schedule asks for. The unit does as with
// any order: an output that is to come on waits for the mains and its charge.
func (s *Site) runSchedule(now vtime.Tick) {
	for _, o := range s.card.ScheduleOrders() {
		switch {
		case !s.card.HasUnit():
			s.record(bySchedule, o.Entry.What()+" "+o.Entry.Does()+" refused: no contact to the unit")
		case o.Entry.Test:
			s.scheduleTest()
		case s.locked:
			s.record(bySchedule, o.Entry.What()+" "+o.Entry.Does()+" refused: "+lockedOut)
		case o.Entry.Group == "":
			s.scheduleOutput(now, o)
		default:
			s.scheduleGroup(now, o)
		}
	}
	s.wakeScheduled(now)
}

// scheduleTest begins the quick test, unless the unit has a reason against it: too
// little charge, battery operation, another test.
func (s *Site) scheduleTest() {
	test := snap.Assignment{Var: snap.VarTestID, Int: int64(snap.TestQuickBattery)}
	if r := s.check(test); r.Status != snap.Done {
		s.record(bySchedule, "battery test left out: "+r.Reason)
		return
	}
	s.apply(bySchedule, test)
	s.touch()
}

func (s *Site) scheduleOutput(now vtime.Tick, o card.ScheduleOrder) {
	switch {
	case o.Warn:
		s.warnHosts(now, -1)
		if at := s.ups.ShutdownAt(); s.ups.OutputOn() && (at == vtime.Never || at > now+o.In) {
			s.ups.Order(now, snap.VarShutdownAfter, int64(o.In+vtime.Second-1)/int64(vtime.Second))
		}
	case o.Entry.On:
		s.ups.Park(false)
		s.ups.Order(now, snap.VarStartupAfter, 0)
	case !s.ups.OutputOn():
		s.ups.Park(true)
	case s.ups.ShutdownAt() != vtime.Never && s.ups.ShutdownAt() < now+2*vtime.Second:
		s.ups.Park(true)
	default:
		s.record(bySchedule, "output off left out: its countdown was cancelled")
	}
	s.touch()
}

func (s *Site) scheduleGroup(now vtime.Tick, o card.ScheduleOrder) {
	i := s.groupNamed(o.Entry.Group)
	switch {
	case i < 0:
		s.record(bySchedule, o.Entry.What()+" refused: the unit has no such group")
	case o.Warn:
		s.warnHosts(now, i)
	case o.Entry.On && !s.mainsGood(now):
		s.groups[i].wanted = true
		s.record(bySchedule, o.Entry.What()+" on waits for the mains")
	default:
		s.groups[i].wanted = false
		order := snap.OrderOff
		if o.Entry.On {
			order = snap.OrderOn
		}
		s.Switch(bySchedule, o.Entry.Group, order)
	}
}

// wakeScheduled switches on what waited for the mains.
func (s *Site) wakeScheduled(now vtime.Tick) {
	for i := range s.groups {
		if g := &s.groups[i]; s.own(i) && g.wanted && s.mainsGood(now) {
			g.wanted = false
			s.Switch(bySchedule, g.cfg.Name, snap.OrderOn)
		}
	}
}

func (s *Site) mainsGood(now vtime.Tick) bool {
	return s.ups.InputGood() && !s.ups.Conditions(now).Has(snap.AlarmInputBad)
}

// warnHosts tells the hosts to stop that will lose their last outlet with a group,
// or with the output if it is -1: too few of their supplies stay live. A real program has to see the countdown itself.
func (s *Site) warnHosts(now vtime.Tick, group int) {
	for i := range s.hosts {
		h, kept := &s.hosts[i], 0
		for _, g := range h.cfg.Groups {
			if s.groups[g].on && g != group && (group >= 0 || !s.own(g)) {
				kept++
			}
		}
		if kept < h.cfg.LeastSupplies() {
			s.tell(now, i)
		}
	}
}
