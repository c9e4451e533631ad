package budget_test

import (
	"math"
	"testing"

	"ridethrough/sim/internal/core/budget"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
)

// slipped has a number of the plan at a value.
func slipped(s *budget.Slip, value float64) func(*plan.Plan) {
	ticks := vtime.Tick(math.Round(value * 1000))
	return func(p *plan.Plan) {
		switch s.Number {
		case budget.StopTime:
			p.Hosts[s.Host].Stop = ticks
		case budget.DrawPct:
			for i := range p.Hosts {
				p.Hosts[i].DrawW *= value / 100
			}
		case budget.CapacityPct:
			p.Battery.Capacity *= value / 100
		case budget.ChargePct:
			p.Battery.ChargePct = value
		case budget.Temperature:
			p.Battery.AmbientC += value
		case budget.BeginAfter:
			p.Policy.OnBatteryFor = ticks
		case budget.LowMinutes:
			p.UPS.LowBatteryMinutes = int(value)
		case budget.HostDeadline:
			p.Policy.HostDeadline = ticks
		case budget.OffCountdown:
			p.Policy.OffDelay = ticks
		}
	}
}

// TestSlipsAgainstTheEngine: every number holds to what is said, one step further does
// not, what has the least room comes first, and so do the things that break at all.
func TestSlipsAgainstTheEngine(t *testing.T) {
	p := load(t, rack)
	steps := map[budget.Number]float64{
		budget.StopTime: 1, budget.DrawPct: 0.1, budget.CapacityPct: -0.1, budget.ChargePct: -0.1, budget.Temperature: -0.1,
		budget.BeginAfter: 1, budget.HostDeadline: -1, budget.OffCountdown: -1,
	}
	tried, room := 0, 0.0
	for _, s := range bare(p).Slips {
		if s.RoomPct < room {
			t.Errorf("%+v comes after one with room %g", s, room)
		}
		room = s.RoomPct
		step, ok := steps[s.Number]
		if !ok || s.Never {
			continue
		}
		tried++
		if !inAll(t, p, ms, slipped(&s, s.Limit)) {
			t.Errorf("%+v: it fails there", s)
		}
		if inAll(t, p, ms, slipped(&s, s.Limit+step)) {
			t.Errorf("%+v: it holds further than that", s)
		}
	}
	if tried < 9 {
		t.Errorf("tried %d only", tried)
	}
}

// TestShareAgainstTheEngine: of draws near the edge as many are clean as the engine
// finds when it plays each of them, with stop times alone and with loads too.
func TestShareAgainstTheEngine(t *testing.T) {
	p := load(t, rack)
	p.Policy.OnBatteryFor = 220 * sec
	old := budget.Conditions(p)[2]
	for _, loads := range []bool{false, true} {
		draws := budget.Draws(p, 0, 100, 40)
		clean := 0
		for k := range draws {
			if d := &draws[k]; loads {
				for i := range p.Hosts {
					d.Watts = append(d.Watts, p.Hosts[i].DrawW*(1+float64((k*7+i*3)%11-5)/100))
				}
			}
			if played(t, p, &old, ms, func(q *plan.Plan) {
				for i := range q.Hosts {
					if q.Hosts[i].Stop = draws[k].Stops[i]; loads {
						q.Hosts[i].DrawW = draws[k].Watts[i]
					}
				}
			}) {
				clean++
			}
		}
		o := options(0)
		o.Draws, o.Share = draws, 0.9
		held := budget.Of(p, o).Held * float64(len(draws))
		if math.Abs(held-float64(clean)) > 1 || clean < 5 || clean > 35 {
			t.Errorf("loads %v: %g of 40 draws clean, by the engine %d", loads, held, clean)
		}
	}
}
