package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/num"
	"ridethrough/sim/internal/phys/thermal"
)

// roomGrid bounds the steps where there is a room: unit and room feel each
// other's warmth of the step before.
const roomGrid = 10 * vtime.Second

// coldest and hottest bound the room: outside of them nothing in it is described
// by this simulator any longer.
const coldest, hottest = -60.0, 150.0

// usualHumidity is the relative humidity, in percent, around a unit without a room:
// that of a room that says nothing of it, so that a probe has something to measure.
const usualHumidity = 45

// room is the room and its cooling. Without one in the plan the temperature
// around the unit never changes.
type room struct {
	cfg     *plan.Room
	node    thermal.Node
	span    thermal.Span // of spanFor
	spanFor vtime.Tick

	failed bool       // the cooling
	dead   bool       // its supply
	backAt vtime.Tick // it works again then; Never: it does, or it has no supply
}

func newRoom(cfg *plan.Room) room {
	r := room{cfg: cfg, backAt: vtime.Never}
	if cfg != nil {
		r.node = thermal.Node{HeatJPerK: cfg.HeatJPerK, CoolWPerK: cfg.LeakWPerK}
	}
	return r
}

// newRoom puts the unit, the hosts and the probes of p into their room.
func (s *Site) newRoom(p *plan.Plan) {
	s.room = newRoom(p.Room)
	if p.Room != nil {
		s.ups.SetAmbient(p.Room.TempC)
	}
	s.newSurroundings(p)
}

// cooling is what it can take away now.
func (r *room) cooling() thermal.Cooling {
	c := thermal.Cooling{SetpointC: r.cfg.SetpointC, MaxW: r.cfg.CoolingW}
	if r.failed || r.dead || r.backAt != vtime.Never {
		c.MaxW = 0
	}
	return c
}

// after is the temperature after dt with heatW in the room.
func (r *room) after(tempC, heatW float64, dt vtime.Tick) float64 {
	if r.spanFor != dt {
		r.span, r.spanFor = r.node.Over(dt.Seconds()), dt
	}
	return num.Clamp(r.span.Cooled(tempC, heatW, r.cfg.OutsideC, r.cooling()), coldest, hottest)
}

func (r *room) view(p *device.Physics, m *motion) snap.Room {
	if r.cfg == nil {
		return snap.Room{TempC: p.RoomC, HumidityPct: usualHumidity}
	}
	c := r.cooling()
	return snap.Room{
		TempC: p.RoomC, HeatW: m.roomHeat,
		HumidityPct: thermal.RelativeHumidity(r.cfg.RelHumPct, r.cfg.TempC, p.RoomC),
		CoolingW:    c.Watts(r.node, p.RoomC, m.roomHeat, r.cfg.OutsideC),
	}
}

// setCooling fails or mends the cooling.
func (s *Site) setCooling(working bool) {
	s.room.failed = !working
	s.note("cooling", workingFailed(working))
}

// coolingSupply stops the cooling with its supply, and has it start again a
// while after that has returned.
func (s *Site) coolingSupply(now vtime.Tick, live bool) {
	r := &s.room
	if r.cfg == nil || r.cfg.CoolingW == 0 || r.cfg.OwnSupply {
		return
	}
	r.dead, r.backAt = !live, vtime.Never
	if live {
		r.backAt = now + r.cfg.CoolAfter
	} else {
		s.note("cooling", "stops with its supply")
	}
}

func (s *Site) runCooling(now vtime.Tick) {
	if s.room.backAt <= now {
		s.room.backAt = vtime.Never
		s.note("cooling", "starts again")
	}
}
