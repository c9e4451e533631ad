package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
)

// backHysteresis is the room, in points of nominal, between a limit of the
// changeover switch and the voltage at which it is content again.
const backHysteresis = 2

func (b *builder) source() error {
	t := &b.file.Source
	if t.Generator == nil && t.Changeover != nil {
		return b.src.at(t.at("changeover"), "there is a changeover switch and no generator", "generator beside it")
	}
	if t.Generator == nil {
		return nil
	}
	g := t.Generator
	b.plan.Source.Generator = &plan.Generator{
		RatingW: g.RatingW, StartAfter: g.StartAfter, StartTakes: g.StartTakes,
		Settles: g.Settles, WanderHz: g.WanderHz, Period: g.Period,
		WanderV: or(g.WanderV, float64(0.05*t.NominalV)), StepV: or(g.StepV, float64(0.20*t.NominalV)),
		DroopHz: g.DroopHz, StepHz: g.StepHz, Recovers: g.Recovers, CoolsDown: g.CoolsDown, Failed: g.Failed,
		Overload: overload(inputOverloadTable(g.Overload)),
		TripV:    g.TripVPct / 100, TripHz: g.TripHzPct / 100, TripAfter: g.TripAfter,
	}
	return b.changeover(t)
}

func (b *builder) changeover(t *supplyTable) error {
	c := t.Changeover
	if c == nil {
		c = &changeoverTable{}
		b.presets(c)
	}
	if c.HighPct-c.LowPct < 3*backHysteresis {
		return b.src.at(c.at("high_pct"), fmt.Sprintf("the window of the changeover switch goes from %g to %g %%", c.LowPct, c.HighPct), "more room for its hysteresis")
	}
	b.plan.Source.Changeover = plan.Changeover{
		Gap: c.Gap, Accept: c.Accept, Watch: c.Watch,
		LowV: c.LowPct / 100, HighV: c.HighPct / 100, LowHz: 1 - c.HzPct/100, HighHz: 1 + c.HzPct/100,
	}
	return nil
}

// Heat of air and of what stands in a room: from memory.
const (
	airJPerM3K       = 1.2 * 1005
	equipmentJPerKgK = 500
)

func (b *builder) room() error {
	t := b.file.Room
	if t == nil {
		return nil
	}
	temp := or(t.TempC, b.plan.Battery.AmbientC)
	if !b.file.Battery.has("ambient_c") {
		b.plan.Battery.AmbientC = temp
	}
	b.plan.Room = &plan.Room{
		TempC: temp, OutsideC: t.OutsideC, LeakWPerK: t.LeakWPerK,
		HeatJPerK: float64(airJPerM3K*t.VolumeM3) + float64(equipmentJPerKgK*t.EquipmentKg),
		RelHumPct: t.HumidityPct, OtherW: t.OtherHeatW,
		CoolingW: t.CoolingW, SetpointC: t.SetpointC, OwnSupply: t.CoolingFrom == "other", CoolAfter: t.CoolAfter,
	}
	return nil
}
