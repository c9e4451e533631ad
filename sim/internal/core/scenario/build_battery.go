package scenario

import (
	"fmt"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/expect"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/phys/battery"
)

func (b *builder) battery() error {
	t := &b.file.Battery
	bat, err := b.cell(t)
	if err != nil {
		return err
	}
	def := leadDefaults
	if bat.Management != nil {
		def = lithiumDefaults
	}
	bat.Cells, bat.Strings = int(t.Series)*bat.BlockCells, int(t.Strings)
	bat.ChargePct, bat.AmbientC = t.ChargePct, t.AmbientC
	bat.ColdestC, bat.HottestC = or(t.ColdestC, min(t.AmbientC, or(t.HottestC, t.AmbientC))), or(t.HottestC, max(t.AmbientC, or(t.ColdestC, t.AmbientC)))
	bat.CutoffV, bat.FloatV = or(t.CutoffV, def.cutoffV), or(t.FloatV, def.floatV)
	bat.FloatMVPerK = or(t.CompensationMVK, def.compensationMV)
	bat.ChargeA = or(t.ChargeA, float64(0.2*bat.CapacityAh)*float64(t.Strings))
	bat.SelfDischargePct, bat.LifeYears = t.SelfDischargePct, t.LifeYears
	b.wear(t, &bat)
	bat.Estimate = plan.Estimate{
		Learned: t.Learned, Filter: t.Estimate.Filter, Quantum: t.Estimate.Quantum,
		GainPct: or(t.Estimate.CounterErrorPct, def.gainPct),
	}
	b.plan.Battery = bat
	return b.fits(t)
}

// defaults are those that hang on what the cells are made of.
type defaults struct{ cutoffV, floatV, compensationMV, gainPct float64 }

var (
	leadDefaults    = defaults{cutoffV: 1.70, floatV: 13.6 / cellsPerBlock, compensationMV: 3}
	lithiumDefaults = defaults{cutoffV: 2.80, floatV: 3.45, gainPct: blocks.ManagementFor(1).GainPct}
)

// wear is what age and faults have done to the cells.
func (b *builder) wear(t *batteryTable, bat *plan.Battery) {
	ageing := bat.Ageing()
	damage := ageing.Damage(t.AgeYears, t.AmbientC)
	bat.Capacity, bat.Resistance = battery.AgedCapacity(damage), battery.AgedResistance(damage)
	if h := t.Health; h != nil {
		bat.Capacity = or(h.CapacityPct, float64(100*bat.Capacity)) / 100
		bat.Resistance = or(h.ResistancePct, float64(100*bat.Resistance)) / 100
	}
	if w := t.WeakBlock; w != nil {
		bat.Weak = &plan.WeakBlock{Capacity: w.CapacityPct / 100, Resistance: w.ResistancePct / 100}
	}
	if t.OpenBlock {
		bat.OpenStrings = 1
	}
}

// fits refuses a charger and an end of discharge that the cells do not go with.
func (b *builder) fits(t *batteryTable) error {
	bat := &b.plan.Battery
	cell := bat.Params()
	full := cell.OpenVolts(1)
	switch {
	case bat.HottestC < bat.ColdestC:
		return b.src.at(t.at("hottest_c"), fmt.Sprintf("hottest_c %g is below coldest_c %g", bat.HottestC, bat.ColdestC), "at least that")
	case bat.CutoffV >= full:
		return b.src.at(t.at("cutoff_v_per_cell"), fmt.Sprintf("cutoff_v_per_cell %g is not below the %.2f V of a full cell", bat.CutoffV, full), "less")
	case bat.FloatV <= full:
		return b.src.at(t.at("float_v_per_cell"), fmt.Sprintf("float_v_per_cell %g is not above the %.2f V of a full cell", bat.FloatV, full), "more")
	case bat.FloatV > full+0.5:
		return b.src.at(t.at("float_v_per_cell"), fmt.Sprintf("float_v_per_cell %g is far above the %.2f V of a full cell", bat.FloatV, full), "less")
	case bat.Management != nil && bat.ChargeA > bat.Management.ChargeA*float64(bat.Strings):
		return b.src.at(t.at("charge_a"), fmt.Sprintf("the management of the cells refuses charge_a %g", bat.ChargeA), fmt.Sprintf("at most %g", bat.Management.ChargeA*float64(bat.Strings)))
	case bat.Weak != nil && bat.OpenStrings == bat.Strings:
		return b.src.at(t.at("weak_block"), "the only string has both a weak block and an open one", "one of them, or more strings")
	}
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
		return plan.Battery{BlockCells: cellsPerBlock, CapacityAh: *t.CapacityAh}, nil
	case "params":
		p := t.Params.params()
		ah := p.CapacityIn(20, 1.75)
		if !(ah >= 0.1) {
			return plan.Battery{}, b.src.at(t.at("params"), "a cell of these params carries no load for 20 hours", "params as fit writes them")
		}
		return plan.Battery{Block: t.Params.Name, Cell: p, BlockCells: cellsPerBlock, CapacityAh: ah}, nil
	case "":
		return b.block(t, "agm-12v-9ah")
	}
	return b.block(t, t.Block)
}

// blockOf is the block of that name. The library is read but once for a mold.
func (b *builder) blockOf(name string) (found blocks.Block, ok bool) {
	if b.kept == nil {
		return blocks.ByName(name)
	}
	if found, ok = b.kept.blocks[name]; !ok {
		if found, ok = blocks.ByName(name); ok {
			b.kept.blocks[name] = found
		}
	}
	return found, ok
}

func (b *builder) block(t *batteryTable, name string) (plan.Battery, error) {
	found, ok := b.blockOf(name)
	if !ok {
		p := b.src.at(t.at("block"), fmt.Sprintf("the library has no block %q", short(name)), "one that docs/scenario.md lists, or capacity_ah or params instead")
		p.Near = expect.Nearest(name, blocks.Names())
		return plan.Battery{}, p
	}
	bat := plan.Battery{Block: found.Name, Cell: found.Cell, BlockCells: found.Cells, CapacityAh: found.CapacityAh}
	if found.Technology == blocks.LFP {
		m := blocks.ManagementFor(found.CapacityAh)
		bat.Management = &m
	}
	return bat, nil
}
