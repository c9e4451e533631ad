package scenario

import (
	"fmt"
	"math"

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

func (b *builder) buildProbes() error {
	b.probes, b.contacts = map[string]int{}, map[string]int{}
	for i := range b.file.Probes {
		t := &b.file.Probes[i]
		if err := b.name(t.at("name"), t.Name); err != nil {
			return err
		}
		if err := b.unique(b.probes, t.at("name"), "the probes", t.Name); err != nil {
			return err
		}
		p := plan.Probe{
			Name: t.Name, Every: t.Every, Lag: t.Lag, NoiseK: t.NoiseK, OffsetK: t.OffsetK, Humidity: t.Humidity,
			LowCriticalC: or(t.LowCriticalC, math.Inf(-1)), LowWarnC: or(t.LowWarnC, math.Inf(-1)),
			HighWarnC: or(t.HighWarnC, math.Inf(1)), HighCriticalC: or(t.HighCriticalC, math.Inf(1)),
			HysteresisK: t.HysteresisK, Delay: t.Delay,
		}
		if err := b.limits(t, &p); err != nil {
			return err
		}
		if err := b.buildContacts(t, &p); err != nil {
			return err
		}
		b.plan.Probes = append(b.plan.Probes, p)
	}
	return nil
}

// limits checks that those of a probe stand in their order, with room for the
// hysteresis between the warnings.
func (b *builder) limits(t *probeTable, p *plan.Probe) error {
	lowest := max(p.LowWarnC, p.LowCriticalC)
	highest := min(p.HighWarnC, p.HighCriticalC)
	switch {
	case t.LowCriticalC != nil && t.LowWarnC != nil && *t.LowCriticalC > *t.LowWarnC:
		return b.src.at(t.at("low_critical_c"), "low_critical_c is above low_warn_c", "not above it")
	case t.HighCriticalC != nil && t.HighWarnC != nil && *t.HighCriticalC < *t.HighWarnC:
		return b.src.at(t.at("high_critical_c"), "high_critical_c is below high_warn_c", "not below it")
	case lowest+p.HysteresisK > highest-p.HysteresisK:
		return b.src.at(t.node.key, "the limits of probe "+t.Name+" leave no room for hysteresis_k between them", "limits further apart")
	}
	return nil
}

func (b *builder) probeNames() []string {
	var names []string
	for _, p := range b.plan.Probes {
		names = append(names, p.Name)
	}
	return names
}

func (b *builder) probeAction(t *entryTable) (plan.Action, error) {
	if t.Probe == nil {
		return plan.Action{}, nil
	}
	plug, unplug := t.Probe.Plug, t.Probe.Unplug
	if (plug == nil) == (unplug == nil) {
		return plan.Action{}, b.src.at(t.at("probe"), "probe needs either plug or unplug", "exactly one of them")
	}
	key, name := "plug", or(plug, "")
	if unplug != nil {
		key, name = "unplug", *unplug
	}
	for i := range b.plan.Probes {
		if b.plan.Probes[i].Name == name {
			return plan.Action{Kind: plan.ActProbe, Probe: i, On: plug != nil}, nil
		}
	}
	return plan.Action{}, b.missing(t.Probe.at(key), "probe", name, b.probeNames())
}
