package scenario

import (
	"fmt"

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
	ah, block, err := b.capacity(t)
	if err != nil {
		return err
	}
	b.plan.Battery = plan.Battery{
		Block: block, Cells: int(t.Series) * cellsPerBlock, Strings: int(t.Strings),
		CapacityAh: ah, ChargePct: t.ChargePct,
		CutoffV: t.CutoffV, FloatV: or(t.FloatV, 13.6/cellsPerBlock),
		ChargeA:  or(t.ChargeA, float64(0.2*ah)*float64(t.Strings)),
		AmbientC: t.AmbientC,
	}
	return nil
}

// capacity is that of one string, and the name of the block.
func (b *builder) capacity(t *batteryTable) (ah float64, block string, err error) {
	switch {
	case t.CapacityAh != nil && t.has("block"):
		return 0, "", b.src.at(t.at("capacity_ah"), "both block and capacity_ah are set", "one of them")
	case t.CapacityAh != nil:
		return *t.CapacityAh, "", nil
	}
	name := t.Block
	if !t.has("block") {
		name = "agm-12v-9ah"
	}
	found, ok := blockByName(name)
	if !ok {
		p := b.src.at(t.at("block"), fmt.Sprintf("the library has no block %q", short(name)), oneOf(blockNames())+", or capacity_ah instead")
		p.Near = expect.Nearest(name, blockNames())
		return 0, "", p
	}
	return found.CapacityAh, found.Name, nil
}
