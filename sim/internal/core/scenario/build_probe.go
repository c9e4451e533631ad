package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	cardset "ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// buildProbes makes the probes, and what the card is told of those that are paired.
func (b *builder) buildProbes() error {
	b.probes, b.contacts = map[string]int{}, map[string]int{}
	ids := map[string]int{}
	for i := range b.file.Probes {
		t := &b.file.Probes[i]
		if err := b.newName(b.probes, t.at("name"), "the probes", t.Name); err != nil {
			return err
		}
		p := plan.Probe{
			Name: t.Name, ID: or(t.ID, plan.ProbeID(b.plan.Seed, t.Name)), IDFromSeed: t.ID == nil, Out: !t.Plugged,
			Every: t.Every, Lag: t.Lag, NoiseK: t.NoiseK, OffsetK: t.OffsetK, Humidity: t.Humidity,
			Fahrenheit: t.Measures == string(snap.Fahrenheit),
		}
		if !cardset.IsProbeID(p.ID) {
			return b.src.at(t.at("id"), fmt.Sprintf("%q is not the id of a probe", short(p.ID)), `eight lower-case hexadecimal digits, such as "1f2e3d4c"`)
		}
		if err := b.unique(ids, t.at("id"), "the ids of probes", p.ID); err != nil {
			return err
		}
		if err := b.tell(t, p.ID); err != nil {
			return err
		}
		if err := b.buildContacts(t, &p); err != nil {
			return err
		}
		b.plan.Probes = append(b.plan.Probes, p)
	}
	return nil
}

// tell has the card know the probe.
func (b *builder) tell(t *probeTable, id string) error {
	s := snap.ProbeSetting{
		Name: t.Name, ID: id, Position: t.Position, Unit: snap.TempUnit(t.Unit), Sends: snap.TempUnit(or(t.Sends, t.Measures)).Plain(),
		Temp:  snap.Limits{LowCritical: probeLimit(t.LowCriticalC), LowWarn: probeLimit(t.LowWarnC), HighWarn: probeLimit(t.HighWarnC), HighCritical: probeLimit(t.HighCriticalC), Hysteresis: t.HysteresisK},
		Humid: snap.Limits{LowCritical: probeLimit(t.LowCriticalPct), LowWarn: probeLimit(t.LowWarnPct), HighWarn: probeLimit(t.HighWarnPct), HighCritical: probeLimit(t.HighCriticalPct), Hysteresis: t.HysteresisPct},
		Rise:  probeLimit(t.RiseK), RiseIn: t.RiseIn, Delay: t.Delay,
	}
	if err := b.limits(t, "c", "hysteresis_k", &s.Temp); err != nil {
		return err
	}
	if err := b.limits(t, "pct", "hysteresis_pct", &s.Humid); err != nil {
		return err
	}
	if t.Paired {
		b.told.Probes = append(b.told.Probes, s)
	}
	return nil
}

func probeLimit(x *float64) snap.Limit {
	if x == nil {
		return snap.NoLimit()
	}
	return snap.Limit(*x)
}

// limits checks that those of a probe stand in their order, with room for the
// hysteresis between them.
func (b *builder) limits(t *probeTable, unit, hysteresis string, l *snap.Limits) error {
	key := func(name string) string { return name + "_" + unit }
	switch {
	case l.LowCritical.Set() && l.LowWarn.Set() && l.LowCritical > l.LowWarn:
		return b.src.at(t.at(key("low_critical")), key("low_critical")+" is above "+key("low_warn"), "not above it")
	case l.HighCritical.Set() && l.HighWarn.Set() && l.HighCritical < l.HighWarn:
		return b.src.at(t.at(key("high_critical")), key("high_critical")+" is below "+key("high_warn"), "not below it")
	}
	for _, low := range []snap.Limit{l.LowCritical, l.LowWarn} {
		for _, high := range []snap.Limit{l.HighWarn, l.HighCritical} {
			if low.Set() && high.Set() && float64(low)+l.Hysteresis > float64(high)-l.Hysteresis {
				return b.src.at(t.node.key, "the limits of probe "+t.Name+" leave no room for "+hysteresis+" between them", "limits further apart")
			}
		}
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

func (b *builder) probeAction(c *cableTable) (plan.Action, error) {
	given := 0
	for _, set := range []bool{c.Plug != nil, c.Unplug != nil, c.Swap != nil, c.Warm != nil} {
		if set {
			given++
		}
	}
	switch {
	case given != 1:
		return plan.Action{}, b.src.at(c.node.off, "probe needs plug, unplug, swap or warm", "exactly one of them")
	case c.Swap == nil && c.Of != nil:
		return plan.Action{}, b.src.at(c.at("of"), "of stands without swap", "swap beside it")
	case c.Warm == nil && (c.ByK != nil || c.ByPct != nil || c.Lasts != nil):
		return plan.Action{}, b.src.at(c.node.off, "by_k, by_pct or lasts stands without warm", "warm beside it")
	case c.Swap != nil:
		return b.swapAction(c)
	case c.Warm != nil:
		return b.warmAction(c)
	}
	a := plan.Action{Kind: plan.ActProbe, On: c.Plug != nil}
	key, name := "plug", or(c.Plug, "")
	if c.Unplug != nil {
		key, name = "unplug", *c.Unplug
	}
	var err error
	a.Probe, err = b.probe(c.at(key), name)
	return a, err
}

func (b *builder) swapAction(c *cableTable) (plan.Action, error) {
	a := plan.Action{Kind: plan.ActProbeSwap, On: or(c.Of, "") == "places"}
	if len(c.Swap) != 2 || c.Swap[0] == c.Swap[1] {
		return a, b.src.at(c.at("swap"), "swap has not two probes", "the names of two")
	}
	var err error
	if a.Probe, err = b.probe(c.at("swap"), c.Swap[0]); err == nil {
		a.Other, err = b.probe(c.at("swap"), c.Swap[1])
	}
	return a, err
}

func (b *builder) warmAction(c *cableTable) (plan.Action, error) {
	a := plan.Action{Kind: plan.ActProbePlace, Value: or(c.ByK, 0), Damp: or(c.ByPct, 0), Change: plan.Change{Lasts: or(c.Lasts, 0)}}
	var err error
	a.Probe, err = b.probe(c.at("warm"), *c.Warm)
	return a, err
}

func (b *builder) probe(offset int, name string) (int, error) {
	for i := range b.plan.Probes {
		if b.plan.Probes[i].Name == name {
			return i, nil
		}
	}
	return 0, b.missing(offset, "probe", name, b.probeNames())
}
