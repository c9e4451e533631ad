package site

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// cardLife is what the timeline does to the card in its slot. The unit and its
// output go on.
func (s *Site) cardLife(now vtime.Tick, order string) {
	switch order {
	case "remove":
		s.card.Remove(now)
	case "insert":
		s.card.Insert(now)
	case "unseat":
		s.card.Unseat(now)
	case "hang":
		s.card.Hang(now)
	}
}

// cutUnit cuts the connection between card and unit, or mends it. What the card
// read last stays with it.
func (s *Site) cutUnit(now vtime.Tick, cut bool) {
	s.note("bench", snap.Either(cut, "connection between card and UPS cut", "connection between card and UPS mended"))
	if cut && s.card.Running() && s.card.HasUnit() {
		s.held = s.device(now)
	}
	s.card.CutUnit(now, cut)
}
