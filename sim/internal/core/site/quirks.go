package site

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// past is what the card remembers of its unit while it shows what is stale:
// states at even times, so many that they cover the age.
type past struct {
	age, every vtime.Tick
	next       vtime.Tick // when the next is taken; Never while nothing is stale
	kept       []*snap.Device
}

// grains is how many states cover the age of what is stale.
const grains = 60

func newPast(age, now vtime.Tick) past {
	return past{age: age, every: max(age/grains, vtime.Second), next: now}
}

// setQuirk has a quirk of the card come or go.
func (s *Site) setQuirk(now vtime.Tick, q snap.Quirk, on bool) {
	if !on {
		s.card.ClearQuirk(q.Kind)
		if s.card.Quirks().Of(snap.QuirkStale) == nil {
			s.past = past{next: vtime.Never}
		}
		return
	}
	q.Since = now
	s.card.SetQuirk(q)
	s.hold(now, q)
}

// holdQuirks gives those that are in force from the beginning what they show.
func (s *Site) holdQuirks(list []snap.Quirk) {
	s.past.next = vtime.Never
	for _, q := range list {
		s.hold(0, q)
	}
}

func (s *Site) hold(now vtime.Tick, q snap.Quirk) {
	switch q.Kind {
	case snap.QuirkFrozen:
		s.card.Hold(q.Kind, s.device(now))
	case snap.QuirkStale:
		s.past = newPast(q.Lasts, now)
	}
}

// recount has a card that has just started count failures of the input from here, if it
// does not keep what it has counted.
func (s *Site) recount() {
	if s.card.Quirks().Of(snap.QuirkCountersNotKept) != nil {
		s.card.Hold(snap.QuirkCountersNotKept, &snap.Device{UPS: snap.UPS{LineBads: s.ups.LineBads()}})
	}
}

// device is a copy of what the card knows of its unit now.
func (s *Site) device(now vtime.Tick) *snap.Device {
	s.fill(now)
	d := s.view.Device
	d.Card.Quirks = nil // which would keep all earlier states alive
	return &d
}

// keepPast takes the state that falls due and shows the one that has come of age.
func (s *Site) keepPast(now vtime.Tick) {
	p := &s.past
	if now < p.next {
		return
	}
	p.next = now - now%p.every + p.every
	p.kept = append(p.kept, s.device(now))
	for len(p.kept) > 1 && p.kept[1].Tick <= now-p.age {
		p.kept = p.kept[1:]
	}
	s.card.Hold(snap.QuirkStale, p.kept[0])
	s.stale = true
}

// quirkActed notes what a surface counted. The command may come from a journal, so
// that it may hold anything.
func (s *Site) quirkActed(c snap.Command) snap.Result {
	k := snap.QuirkByName(c.Text)
	if k == 0 || c.Code < 1 {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no quirk %q acted %d times", c.Text, c.Code)}
	}
	s.card.TellActs(k, c.Code)
	return snap.Result{}
}
