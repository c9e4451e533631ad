package site

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// How often the card writes down what its meters show: always after a while, and
// with an entry of a log if that was some time ago. More often would wear real flash,
// and here the disk of a session that runs fast.
const (
	keepEnergyEvery = 10 * vtime.Minute
	keepEnergyWith  = vtime.Minute
)

// meter counts what each group draws from now on, in watts. Who was handed the
// meters has them as they were.
func (s *Site) meter(now vtime.Tick, watts []float64) {
	switch {
	case len(watts) == 0:
	case s.energy == nil:
		s.energy = s.firstEnergy(watts)
	case !s.energy.Same(watts):
		s.energy = s.energy.Turn(now, watts)
	}
}

// firstEnergy are the meters at tick 0, with what the card has kept of them.
func (s *Site) firstEnergy(watts []float64) *snap.Energy {
	kept := s.card.KeptEnergy()
	e := &snap.Energy{Groups: make([]snap.Meter, len(watts)), Since: kept.Since}
	for i := range e.Groups {
		e.Groups[i] = snap.Meter{W: watts[i], Zero: -kept.Of(s.groups[i].cfg.Name)}
	}
	return e
}

// resetEnergy sets all meters to 0.
func (s *Site) resetEnergy(c snap.Command) snap.Result {
	if s.energy == nil {
		return snap.Result{Status: snap.Inconsistent, Reason: "the unit has no outlet groups to meter"}
	}
	used := s.energy.Total(s.now)
	s.energy = s.energy.Reset(s.now, s.card.EnergyReset(s.now, c.By, used))
	s.keepEnergy()
	return snap.Result{}
}

// keepEnergy has the card write down what the meters show, and its clock.
func (s *Site) keepEnergy() {
	s.card.KeepClock(s.now)
	if s.energy == nil || !s.card.Keeps() {
		return
	}
	list := make([]snap.KeptMeter, len(s.groups))
	for i := range list {
		list[i] = snap.KeptMeter{Group: s.groups[i].cfg.Name, Wh: s.energy.Group(i, s.now).Wh}
	}
	s.card.KeepEnergy(s.now, snap.KeptEnergy{Since: s.energy.Since, Groups: list})
}

// energyDue says whether the meters should be written down: with whatever else the
// card writes, or because it is long ago.
func (s *Site) energyDue() bool {
	if !s.card.Keeps() {
		return false
	}
	age := s.now - s.card.EnergyKept()
	return s.card.Changed() || age >= keepEnergyEvery || age >= keepEnergyWith && s.card.Logged()
}

// Farewell is what the card of each unit has to keep when the session ends in order.
func (s *Site) Farewell() []*snap.Keep {
	s.keepEnergy()
	list := []*snap.Keep{s.card.Keep()}
	for _, u := range s.others() {
		list = append(list, u.Farewell()...)
	}
	return list
}
