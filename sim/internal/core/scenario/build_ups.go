package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// usual is what is common for a topology, limits as shares of the nominal
// values. The losses are invented; those of VFI follow a worked example.
type usual struct {
	model         string
	low, high     float64
	lowHz, highHz float64
	transfer      vtime.Tick
	loss          plan.LossCurve
	bypass        bool
}

func usualOf(t plan.Topology) usual {
	return [...]usual{
		plan.VI: {
			model: "Line-interactive 3000 SIMULATION", low: 0.77, high: 1.22, lowHz: 0.94, highHz: 1.06, transfer: 6,
			loss: plan.LossCurve{NoLoad: 0.010, Linear: 0.003, Quadratic: 0.007},
		},
		plan.VFD: {
			model: "Standby 3000 SIMULATION", low: 0.80, high: 1.15, lowHz: 0.94, highHz: 1.06, transfer: 10,
			loss: plan.LossCurve{NoLoad: 0.005, Linear: 0.002, Quadratic: 0.003},
		},
		plan.VFI: {
			model: "Double-conversion 3000 SIMULATION", low: 0.65, high: 1.25, lowHz: 0.90, highHz: 1.10, transfer: 4,
			loss: plan.LossCurve{NoLoad: 0.020, Linear: 0.020, Quadratic: 0.025}, bypass: true,
		},
	}[t]
}

func (b *builder) ups() error {
	t, v, hz := &b.file.UPS, b.plan.Source.Volts, b.plan.Source.Hz
	class := map[string]plan.Topology{"VI": plan.VI, "VFD": plan.VFD, "VFI": plan.VFI}[t.Topology]
	lines := map[string][2]int{"1/1": {1, 1}, "2/2": {2, 2}, "3/1": {3, 1}, "3/3": {3, 3}}[t.Phases]
	as := usualOf(class)
	b.plan.UPS = plan.UPS{
		Topology: class, LinesIn: lines[0], LinesOut: lines[1],
		Manufacturer: t.Manufacturer, Model: or(t.Model, as.model), Firmware: t.Firmware,
		RatingVA: t.RatingVA, RatingW: t.RatingW,
		LowTransferV:  or(t.LowTransferV, wholePart(as.low, v)),
		HighTransferV: or(t.HighTransferV, wholePart(as.high, v)),
		BoostBelowV:   or(t.BoostBelowV, wholePart(0.90, v)),
		ReduceAboveV:  or(t.ReduceAboveV, wholePart(1.10, v)),
		Ratio:         t.Ratio,
		LowHz:         or(t.LowHz, float64(as.lowHz*hz)), HighHz: or(t.HighHz, float64(as.highHz*hz)),
		HysteresisV: or(t.HysteresisV, wholePart(0.02, v)),
		Transfer:    or(t.Transfer, as.transfer), Qualify: t.Qualify,
		Retransfer: plan.Retransfer{Quick: t.Retransfer.Quick, Limit: int(t.Retransfer.Limit), Hold: t.Retransfer.Hold},
		SlewHzPerS: t.SlewHzPerS, GeneratorCharge: t.GeneratorChargePct / 100,
		LowBatteryMinutes: int(t.LowBatteryMinutes),
		ShutdownType:      map[string]int{"output": 1, "system": 2}[t.ShutdownType],
		AutoRestart:       t.AutoRestart,
		Audible:           map[string]snap.Audible{"disabled": snap.AudibleDisabled, "enabled": snap.AudibleEnabled, "muted": snap.AudibleMuted}[t.Audible],
	}
	b.losses(t, as.loss)
	b.bypass(&t.Bypass, as.bypass)
	b.overloads(t)
	b.converter(&t.Heat)
	return b.powerPath(t)
}

func (b *builder) losses(t *upsTable, mains plan.LossCurve) {
	u := &b.plan.UPS
	u.MainsLoss = plan.LossCurve{
		NoLoad: or(t.MainsLoss.NoLoad, mains.NoLoad), Linear: or(t.MainsLoss.Linear, mains.Linear),
		Quadratic: or(t.MainsLoss.Quadratic, mains.Quadratic),
	}
	u.BatteryLoss = lossCurve(t.BatteryLoss)
	if u.Topology == plan.VFI {
		u.HighEfficiency, u.WalkIn = t.HighEfficiency, t.WalkIn
		u.HighEfficiencyLoss = lossCurve(batteryLossTable(t.HighEfficiencyLoss))
	}
	u.BypassLoss = lossCurve(batteryLossTable(t.BypassLoss))
}

func lossCurve(t batteryLossTable) plan.LossCurve {
	return plan.LossCurve{NoLoad: t.NoLoad, Linear: t.Linear, Quadratic: t.Quadratic}
}

func (b *builder) bypass(t *bypassTable, usual bool) {
	v, hz := b.plan.Source.Volts, b.plan.Source.Hz
	b.plan.UPS.Bypass = plan.Bypass{
		Fitted: or(t.Fitted, usual),
		Supply: map[string]plan.BypassSupply{"input": plan.BypassInput, "site": plan.BypassSite, "second": plan.BypassSecond}[t.Supply],
		LowV:   or(t.LowV, wholePart(0.90, v)), HighV: or(t.HighV, wholePart(1.10, v)),
		LowHz: or(t.LowHz, float64(0.96*hz)), HighHz: or(t.HighHz, float64(1.04*hz)),
		Gap: t.Gap,
	}
}

func (b *builder) overloads(t *upsTable) {
	u := &b.plan.UPS
	u.Overload = overload(t.Overload)
	u.InverterOverload = overload(inputOverloadTable(t.InverterOverload))
	u.BypassOverload = overload(inputOverloadTable(t.BypassOverload))
}

func overload(t inputOverloadTable) plan.Overload {
	return plan.Overload{At125: t.At125, Borne: t.Borne / 100, Instant: t.Instant / 100, Cools: t.Cools}
}

// A unit at full load comes to fullRise above the room, with warmsIn as its time
// constant: common practice.
const (
	fullRise = 20.0
	warmsIn  = 20 * vtime.Minute
)

func (b *builder) converter(t *converterTable) {
	u := &b.plan.UPS
	full := func(c plan.LossCurve) float64 { return c.NoLoad + c.Linear + c.Quadratic }
	cool := max(float64(u.RatingW*max(full(u.MainsLoss), full(u.BatteryLoss)))/fullRise, 0.01)
	c := plan.Converter{
		CoolWPerK: or(t.CoolWPerK, cool), NoFan: t.NoFanPct / 100,
		WarnC: t.WarnC, TripC: t.TripC, DerateC: t.DerateC, DeratePct: t.DeratePct,
	}
	c.HeatJPerK = or(t.HeatJPerK, max(float64(c.CoolWPerK*warmsIn.Seconds()), 100))
	u.Converter = c
}

// powerPath refuses what does not go together.
func (b *builder) powerPath(t *upsTable) error {
	u := &b.plan.UPS
	for _, only := range []struct{ key, topology string }{
		{"boost_below_v", "VI"}, {"reduce_above_v", "VI"}, {"ratio", "VI"},
		{"high_efficiency", "VFI"}, {"high_efficiency_loss", "VFI"}, {"walk_in", "VFI"},
	} {
		if t.has(only.key) && t.Topology != only.topology {
			return b.src.at(t.at(only.key), only.key+" means nothing for topology "+t.Topology, fmt.Sprintf("topology = %q", only.topology))
		}
	}
	switch {
	case u.LinesIn > 1 && u.Topology != plan.VFI:
		return b.src.at(t.at("phases"), "topology "+t.Topology+" has one line", `"1/1", or topology = "VFI"`)
	case u.Bypass.Supply != plan.BypassInput && (u.Topology != plan.VFI || !u.Bypass.Fitted):
		return b.src.at(t.Bypass.at("supply"), fmt.Sprintf("supply = %q is for a bypass of topology VFI", t.Bypass.Supply), `"input", or topology = "VFI" with its bypass`)
	case u.HighEfficiency && !u.Bypass.Fitted:
		return b.src.at(t.at("high_efficiency"), "high-efficiency mode lacks its static switch", "bypass = { fitted = true }")
	}
	if err := b.window(t); err != nil {
		return err
	}
	return b.bypassWindow(t)
}

// window checks that the limits of the input stand in their order, each with
// room for the hysteresis before the nominal value.
func (b *builder) window(t *upsTable) error {
	u, v, hz := &b.plan.UPS, b.plan.Source.Volts, b.plan.Source.Hz
	limits := []limit{{"rating_w", "rating_va", u.RatingW, u.RatingVA}}
	if u.Topology == plan.VI {
		limits = append(limits,
			limit{"low_transfer_v", "boost_below_v", u.LowTransferV, u.BoostBelowV},
			limit{"boost_below_v", "nominal_v less hysteresis_v", u.BoostBelowV, v - u.HysteresisV},
			limit{"hysteresis_v", "reduce_above_v less nominal_v", u.HysteresisV, u.ReduceAboveV - v},
			limit{"reduce_above_v", "high_transfer_v", u.ReduceAboveV, u.HighTransferV})
	} else {
		limits = append(limits,
			limit{"low_transfer_v", "nominal_v less hysteresis_v", u.LowTransferV, v - u.HysteresisV},
			limit{"hysteresis_v", "high_transfer_v less nominal_v", u.HysteresisV, u.HighTransferV - v})
	}
	return b.ordered(&t.table, append(limits,
		limit{"low_hz", "frequency_hz", u.LowHz, hz}, limit{"frequency_hz", "high_hz", hz, u.HighHz}))
}

// bypassWindow checks the limits of the bypass, and those of the heat.
func (b *builder) bypassWindow(t *upsTable) error {
	p, v, hz := &b.plan.UPS.Bypass, b.plan.Source.Volts, b.plan.Source.Hz
	if t.has("bypass") {
		if err := b.ordered(&t.Bypass.table, []limit{
			{"low_v", "nominal_v", p.LowV, v}, {"nominal_v", "high_v", v, p.HighV},
			{"low_hz", "frequency_hz", p.LowHz, hz}, {"frequency_hz", "high_hz", hz, p.HighHz},
		}); err != nil {
			return err
		}
	}
	if !t.has("heat") {
		return nil
	}
	return b.ordered(&t.Heat.table, []limit{{"warn_c", "trip_c", t.Heat.WarnC, t.Heat.TripC}})
}

// limit is a pair of values of which the first may not be above the second.
type limit struct {
	key, other string
	low, high  float64
}

func (b *builder) ordered(t *table, limits []limit) error {
	for _, c := range limits {
		if c.low <= c.high {
			continue
		}
		at := t.at(c.key)
		if !t.has(c.key) && t.has(c.other) {
			at = t.at(c.other)
		}
		return b.src.at(at, fmt.Sprintf("%s %g is above %s %g", c.key, c.low, c.other, c.high), c.key+" not above it")
	}
	return nil
}
