package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/mains"
)

// motion is what moves between two instants beside [device.Physics], of which the
// room's temperature is a part.
type motion struct {
	burden mains.Burden // of the generator
	strain float64      // overload that it has borne, as a share of what trips it

	// roomHeat is what warmed the room up in the last step, in W.
	roomHeat float64
}

// sharedW is what the further units on the feeder of the first one draw from it in the
// step that is tried.
func (s *Site) sharedW() (watts float64) {
	for _, u := range s.others() {
		if u.plan.SharedSource {
			watts += u.tried.flows.Mains
		}
	}
	return watts
}

// move is m after dt, in which the unit went from before to after with f.
func (s *Site) move(m motion, before, after *device.Physics, f device.Flows, dt vtime.Tick) motion {
	if g := s.genset; g.turns() {
		load := 0.0
		if g.position == snap.OnGenerator {
			load = (f.Mains + s.directW + s.sharedW()) / g.cfg.RatingW
		}
		m.burden = g.model.Bear(m.burden, load, dt.Seconds())
		m.strain = g.law.Step(m.strain, load, dt.Seconds())
	} else if m.strain > 0 {
		m.strain = g.law.Step(m.strain, 0, dt.Seconds())
	}
	if s.room.cfg != nil {
		m.roomHeat = s.ups.HeatGiven(before, after, f, dt) + s.hostsW + s.room.cfg.OtherW
		after.RoomC = s.room.after(before.RoomC, m.roomHeat, dt)
	}
	return m
}
