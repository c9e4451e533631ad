package device

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/power"
	"ridethrough/sim/internal/phys/thermal"
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
	pack   *battery.Pack  // as it is at tick 0
	body   thermal.Node   // the battery as a lump of heat
	mains  power.LossCurve
	onBatt power.LossCurve
	static power.LossCurve // in high-efficiency mode
	past   power.LossCurve // on the bypass
	laws   [ways]power.Overload

	volts, hz []int64 // nominal values that it supports, in V and 0.1 Hz
}

// Heat capacity and conductance of one 2.2 kg block of six cells in free air:
// 0.9 kJ/kg/K and 0.060 m2 at 8 W/m2/K, from memory. Other blocks count as such.
const (
	blockHeatJPerK = 1980
	blockCoolWPerK = 0.48
)

// Share of the accepted charge that is stored, from memory, and the current on float
// for each Ah of a string: common practice, 1 to 4 mA.
const (
	chargeEfficiency = 0.97
	floatPerAh       = 0.001
)

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
	blocks := float64(bat.Cells*bat.Strings) / float64(bat.BlockCells)
	d.body = thermal.Node{HeatJPerK: blocks * blockHeatJPerK, CoolWPerK: blocks * blockCoolWPerK}
	pack := bat.Pack(bat.AmbientC, 0)
	d.pack = &pack
	d.first = d.rated.NewStep(vtime.Millisecond.Hours())
	return d
}

// Steps keeps the last length of time that was made ready for the cells of a
// unit, and the cells that were last made. It may serve several units, one at a
// time.
type Steps struct {
	of   *design
	dt   vtime.Tick
	step battery.Step

	made        *battery.Pack // never changed in place; nil: none
	madeOf      *design
	tempC, wear float64 // that it was made for
}

// pack is the cells of a unit for a temperature and a wear. Units that came
// through the same get the same.
func (s *Steps) pack(of *design, tempC, wear float64) *battery.Pack {
	if s.made == nil || s.madeOf != of || s.tempC != tempC || s.wear != wear {
		made := of.bat.Pack(tempC, wear)
		s.made, s.madeOf, s.tempC, s.wear = &made, of, tempC, wear
	}
	return s.made
}

// ready is a step of dt. Scaled cells share the steps of the rated one.
func (s *Steps) ready(of *design, dt vtime.Tick) *battery.Step {
	if s.of != of || s.dt != dt {
		s.of, s.dt, s.step = of, dt, of.rated.NewStep(dt.Hours())
	}
	return &s.step
}
