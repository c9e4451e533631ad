package site

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// engine is what the monitor knows of the clock of an SNMPv3 engine (RFC 3414
// section 2.3): its boots, when by them its time was 0, and the latest time that it
// was told.
type engine struct {
	known  bool
	boots  uint32
	zero   vtime.Tick
	latest vtime.Tick
}

// engines are this card's, and that of its neighbour.
type engines struct{ card, neighbour engine }

// window is by how much the times of two engines may differ (RFC 3414 section
// 2.2.3).
const window = 150 * vtime.Second

// clock is the boots and the time of an authoritative engine.
type clock struct {
	boots uint32
	time  vtime.Tick
}

// asks has a manager that knows e speak with the engine whose clock is c, and says
// whether it gets data.
func (e *engine) asks(now vtime.Tick, c clock) bool {
	if !e.known {
		*e = engine{known: true, boots: c.boots, zero: now - c.time, latest: c.time}
		return true
	}
	off := now - e.zero - c.time
	if e.boots == c.boots && off <= window && off >= -window {
		e.follow(now, c)
		return true
	}
	// The report says notInTimeWindow with the engine's own clock. What looks older
	// than what is known is taken for a replay: RFC 3414 section 3.2 step 7b.
	return e.follow(now, c)
}

// follow takes the clock of an authentic message if that is newer.
func (e *engine) follow(now vtime.Tick, c clock) bool {
	if c.boots < e.boots || c.boots == e.boots && c.time <= e.latest {
		return false
	}
	e.boots, e.zero, e.latest = c.boots, now-c.time, c.time
	return true
}

// cardClock is the clock of the card's engine, quirks and all.
func (s *Site) cardClock(now vtime.Tick) clock {
	q, card := s.card.Quirks(), &s.view.Card
	c := clock{boots: card.Boots, time: max(now-card.RunningAt, 0)}
	if q.Of(snap.QuirkBootsNotKept) != nil && c.boots > 1 {
		c.boots = 1
		s.card.Acted(now, snap.QuirkBootsNotKept)
	}
	if stuck := q.Of(snap.QuirkEngineTimeStuck); stuck != nil {
		c.time = max(stuck.Since-card.RunningAt, 0)
		s.card.Acted(now, snap.QuirkEngineTimeStuck)
	}
	return c
}

// neighbourClock is that of the other card, which nothing befalls.
func (s *Site) neighbourClock(now vtime.Tick) clock {
	return clock{boots: s.monitor.cfg.NeighbourBoots, time: s.monitor.cfg.NeighbourUp + now}
}

// neighbourEngine is what the monitor goes by for the other card.
func (s *Site) neighbourEngine() *engine {
	m := s.monitor
	if m.cfg.ByEngineID && s.card.Quirks().Of(snap.QuirkSharedEngineID) != nil {
		s.card.Acted(s.now, snap.QuirkSharedEngineID)
		return &m.v3.card
	}
	return &m.v3.neighbour
}

// inStep says whether the card answers an SNMPv3 request of the monitor with data.
func (s *Site) inStep(now vtime.Tick) bool {
	return s.speak(now, &s.monitor.v3.card, s.cardClock(now), &s.monitor.seen.OutOfStep, "the card is out of step")
}

// pollNeighbour polls the other card, in SNMPv3.
func (s *Site) pollNeighbour(now vtime.Tick) {
	m := s.monitor
	if !m.cfg.Neighbour {
		return
	}
	s.speak(now, s.neighbourEngine(), s.neighbourClock(now), &m.seen.NeighbourLost, "the other card is out of step")
}

// speak has the monitor ask an engine. Out of step it discovers it anew with the next
// poll, unless it never does.
func (s *Site) speak(now vtime.Tick, e *engine, c clock, lost *bool, text string) bool {
	ok := e.asks(now, c)
	if *lost == ok {
		if ok {
			text += " no more"
		}
		s.alert(lost, !ok, text, nil)
	}
	if !ok && !s.monitor.cfg.NoDiscovery {
		*e = engine{}
	}
	return ok
}
