package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

func (b *builder) ups() error {
	t, v, hz := &b.file.UPS, b.plan.Source.Volts, b.plan.Source.Hz
	if t.Topology != "VI" {
		return b.src.at(t.at("topology"), "topology "+t.Topology+" is not simulated yet", `"VI"`)
	}
	b.plan.UPS = plan.UPS{
		Manufacturer: t.Manufacturer, Model: t.Model, Firmware: t.Firmware,
		RatingVA: t.RatingVA, RatingW: t.RatingW,
		LowTransferV:  or(t.LowTransferV, wholePart(0.77, v)),
		HighTransferV: or(t.HighTransferV, wholePart(1.22, v)),
		BoostBelowV:   or(t.BoostBelowV, wholePart(0.90, v)),
		ReduceAboveV:  or(t.ReduceAboveV, wholePart(1.10, v)),
		Ratio:         t.Ratio,
		LowHz:         or(t.LowHz, float64(0.94*hz)), HighHz: or(t.HighHz, float64(1.06*hz)),
		HysteresisV: or(t.HysteresisV, wholePart(0.02, v)),
		Transfer:    t.Transfer, Qualify: t.Qualify,
		MainsLoss:         plan.LossCurve{NoLoad: t.MainsLoss.NoLoad, Linear: t.MainsLoss.Linear, Quadratic: t.MainsLoss.Quadratic},
		BatteryLoss:       plan.LossCurve{NoLoad: t.BatteryLoss.NoLoad, Linear: t.BatteryLoss.Linear, Quadratic: t.BatteryLoss.Quadratic},
		LowBatteryMinutes: int(t.LowBatteryMinutes),
		ShutdownType:      map[string]int{"output": 1, "system": 2}[t.ShutdownType],
		AutoRestart:       t.AutoRestart,
		Audible:           map[string]snap.Audible{"disabled": snap.AudibleDisabled, "enabled": snap.AudibleEnabled, "muted": snap.AudibleMuted}[t.Audible],
	}
	return b.window(t)
}

// window checks that the limits of the input stand in their order, each with
// room for the hysteresis before the nominal value.
func (b *builder) window(t *upsTable) error {
	u, v, hz := &b.plan.UPS, b.plan.Source.Volts, b.plan.Source.Hz
	for _, c := range []struct {
		key, other string
		low, high  float64
	}{
		{"rating_w", "rating_va", u.RatingW, u.RatingVA},
		{"low_transfer_v", "boost_below_v", u.LowTransferV, u.BoostBelowV},
		{"boost_below_v", "nominal_v less hysteresis_v", u.BoostBelowV, v - u.HysteresisV},
		{"hysteresis_v", "reduce_above_v less nominal_v", u.HysteresisV, u.ReduceAboveV - v},
		{"reduce_above_v", "high_transfer_v", u.ReduceAboveV, u.HighTransferV},
		{"low_hz", "frequency_hz", u.LowHz, hz},
		{"frequency_hz", "high_hz", hz, u.HighHz},
	} {
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

func (b *builder) battery() error {
	t := &b.file.Battery
	bat, err := b.cell(t)
	if err != nil {
		return err
	}
	bat.Cells, bat.Strings = int(t.Series)*cellsPerBlock, int(t.Strings)
	bat.ChargePct, bat.CutoffV, bat.FloatV = t.ChargePct, t.CutoffV, or(t.FloatV, 13.6/cellsPerBlock)
	bat.ChargeA = or(t.ChargeA, float64(0.2*bat.CapacityAh)*float64(t.Strings))
	bat.AmbientC = t.AmbientC
	b.plan.Battery = bat
	return nil
}

// cell is the battery as far as one cell of it goes.
func (b *builder) cell(t *batteryTable) (plan.Battery, error) {
	given := ""
	for _, key := range []string{"block", "capacity_ah", "params"} {
		if t.has(key) && given != "" {
			return plan.Battery{}, b.src.at(t.at(key), fmt.Sprintf("both %s and %s are set", given, key), "one of them")
		}
		if t.has(key) {
			given = key
		}
	}
	switch given {
	case "capacity_ah":
		return plan.Battery{CapacityAh: *t.CapacityAh}, nil
	case "params":
		p := t.Params.params()
		ah := p.CapacityIn(20, 1.75)
		if !(ah >= 0.1) {
			return plan.Battery{}, b.src.at(t.at("params"), "a cell of these params carries no load for 20 hours", "params as fit writes them")
		}
		return plan.Battery{Block: t.Params.Name, Cell: p, CapacityAh: ah}, nil
	case "":
		return b.block(t, "agm-12v-9ah")
	}
	return b.block(t, t.Block)
}

func (b *builder) block(t *batteryTable, name string) (plan.Battery, error) {
	found, ok := blocks.ByName(name)
	if ok && found.Technology != blocks.AGM {
		return plan.Battery{}, b.src.at(t.at("block"), "block "+name+" is lithium iron phosphate, which is not simulated yet", "a lead-acid block")
	}
	if !ok {
		p := b.src.at(t.at("block"), fmt.Sprintf("the library has no block %q", short(name)), "one that docs/scenario.md lists, or capacity_ah or params instead")
		p.Near = expect.Nearest(name, blockNames())
		return plan.Battery{}, p
	}
	return plan.Battery{Block: found.Name, Cell: found.Cell, CapacityAh: found.CapacityAh}, nil
}
