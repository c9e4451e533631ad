package device

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/power"
)

// design is what never changes of a unit. Units of the same make share it: a
// fleet has thousands of them.
type design struct {
	cfg   plan.UPS
	class class
	bat   plan.Battery
	src   plan.Source

	rated  battery.Params // a cell of its block, new and at 25 C
	first  battery.Step   // a step of one tick
	mains  power.LossCurve
	onBatt power.LossCurve
	static power.LossCurve // in high-efficiency mode
	past   power.LossCurve // on the bypass
	laws   [ways]power.Overload

	volts, hz []int64 // nominal values that it supports, in V and 0.1 Hz
}

func newDesign(cfg plan.UPS, bat plan.Battery, src plan.Source) *design {
	d := &design{
		cfg: cfg, class: classOf(cfg.Topology), bat: bat, src: src,
		rated:  bat.Params(),
		mains:  power.LossCurve(cfg.MainsLoss),
		onBatt: power.LossCurve(cfg.BatteryLoss),
		static: power.LossCurve(cfg.HighEfficiencyLoss),
		past:   power.LossCurve(cfg.BypassLoss),
		laws:   [ways]power.Overload{OverloadLaw(cfg.Overload), OverloadLaw(cfg.InverterOverload), OverloadLaw(cfg.BypassOverload)},
		volts:  nominalVolts(src.Volts), hz: nominalTenths(src.Hz),
	}
	d.first = d.rated.NewStep(vtime.Millisecond.Hours())
	return d
}

// Steps keeps the last length of time that was made ready for the cells of a
// unit. It may serve several units, one at a time.
type Steps struct {
	of   *design
	dt   vtime.Tick
	step battery.Step
}

// ready is a step of dt. Scaled cells share the steps of the rated one.
func (s *Steps) ready(of *design, dt vtime.Tick) *battery.Step {
	if s.of != of || s.dt != dt {
		s.of, s.dt, s.step = of, dt, of.rated.NewStep(dt.Hours())
	}
	return &s.step
}
