package site

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// What endangers a generator, one bit each.
const (
	overloaded = 1 << iota // it has borne all that it can
	tooLow                 // its voltage
	tooSlow                // its frequency
)

// danger is what endangers the generator at t under m.
func (g *genset) danger(t vtime.Tick, m *motion, nominal *plan.Source) (bits uint64) {
	if !g.turns() {
		return 0
	}
	w := g.at(t, m)
	for i, bad := range []bool{
		m.strain >= 1,
		w.volts[0] < g.cfg.TripV*nominal.Volts,
		w.hz < g.cfg.TripHz*nominal.Hz,
	} {
		if bad {
			bits |= 1 << i
		}
	}
	return bits
}

// protectEngine stops a generator that would come to harm. It is then locked out
// until somebody resets it.
func (s *Site) protectEngine(now vtime.Tick) {
	g := s.genset
	bits := g.danger(now, &s.motion, &s.plan.Source)
	g.low = armed(now, g.low, g.cfg.TripAfter, bits&(tooLow|tooSlow) != 0)
	w := g.at(now, &s.motion)
	switch {
	case bits&overloaded != 0:
		s.trip(fmt.Sprintf("overload, %.0f %% of its rating", 100*s.motion.burden.Load))
	case g.low <= now && bits&tooSlow != 0:
		s.trip(fmt.Sprintf("under-frequency, %.2f Hz", w.hz))
	case g.low <= now:
		s.trip(fmt.Sprintf("under-voltage, %.1f V", w.volts[0]))
	}
}

func (s *Site) trip(why string) {
	s.genset.low = vtime.Never
	s.says(snap.What{Kind: snap.WhatGenerator}, "generator", "trips: "+why)
	s.generator(snap.GeneratorTripped, vtime.Never)
}
