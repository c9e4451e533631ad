package plan

import (
	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/num"
)

// Battery is the string. Quantities per cell are as phys/battery has them.
type Battery struct {
	Block       string         // library name, for people
	Cell        battery.Params // new and at 25 C; zero: the typical cell of CapacityAh
	Cells       int            // in series, all blocks together
	BlockCells  int            // of one block
	Strings     int            // in parallel
	CapacityAh  float64        // 20-hour capacity of one string, new
	ChargePct   float64        // at tick 0
	CutoffV     float64        // per cell
	FloatV      float64        // per cell at 25 C
	FloatMVPerK float64        // by how much less per kelvin, in millivolts per cell
	ChargeA     float64        // charger's limit, all strings together
	AmbientC    float64

	// The coldest and hottest that its place becomes, for a budget; a run does not look at them.
	ColdestC, HottestC float64

	// Capacity and Resistance are shares of what the cells had when new, at tick 0.
	Capacity, Resistance float64
	LifeYears            float64    // on float at 25 C
	SelfDischargePct     float64    // of the capacity in a month at 25 C
	Weak                 *WeakBlock // nil: none
	OpenStrings          int        // strings that a broken block has opened
	// Management is the cells' own, nil for lead-acid.
	Management *blocks.Management

	Estimate Estimate
}

// WeakBlock is one block worse than the others, as shares of what they have.
type WeakBlock struct{ Capacity, Resistance float64 }

// Estimate is how the unit's controller comes to its figures of charge and
// runtime.
type Estimate struct {
	Learned bool       // it knows the cells as they are; else it takes them for new
	Filter  vtime.Tick // time constant of its view of the load
	Quantum vtime.Tick // steps in which it shows the runtime; 0: none
	GainPct float64    // error of its counter of charge
}

// Params is the cell: Cell, or the typical one of the capacity.
func (b *Battery) Params() battery.Params {
	if b.Cell.C == 0 {
		return battery.FromC20(b.CapacityAh)
	}
	return b.Cell
}

// halvingK is by how many kelvins float life halves: 15 F, as most makers say.
const halvingK = 8.33

// Ageing is the life of the cells on float.
func (b *Battery) Ageing() battery.Ageing {
	return battery.Ageing{LifeYears: b.LifeYears, HalvingK: halvingK}
}

// Aged is a cell at 25 C after wear more than at tick 0, a share of its life.
func (b *Battery) Aged(wear float64) battery.Params {
	p := b.Params()
	capacity := max(b.Capacity+battery.AgedCapacity(wear)-1, 0.01)
	return p.Scaled(capacity, b.Resistance+battery.AgedResistance(wear)-1)
}

// Pack is the battery at a temperature, after wear more than at tick 0.
func (b *Battery) Pack(tempC, wear float64) battery.Pack {
	cell := b.Aged(wear)
	cell = cell.Scaled(b.capacityAt(tempC), battery.ResistanceFactor(tempC))
	p := battery.Pack{Cells: b.Cells, Sound: b.Strings - b.OpenStrings, Cell: cell, WeakCell: cell}
	if b.Weak != nil && p.Sound > 0 {
		p.Sound--
		p.Weak = b.BlockCells
		p.WeakCell = cell.Scaled(b.Weak.Capacity, b.Weak.Resistance)
	}
	return p
}

func (b *Battery) capacityAt(tempC float64) float64 {
	if b.Management != nil {
		return battery.LithiumCapacityFactor(tempC)
	}
	return battery.CapacityFactor(tempC)
}

// FloatAt is the charger's voltage per cell at a temperature of the battery,
// never so low that a full cell would not be held.
func (b *Battery) FloatAt(tempC float64) float64 {
	cell := b.Params()
	volts := battery.CompensatedVolts(b.FloatV, b.FloatMVPerK, tempC)
	return num.Clamp(volts, cell.OpenVolts(1), b.FloatV+0.2)
}

// Resists is how the cells oppose their charge, see [battery.Charger].
func (b *Battery) Resists() float64 {
	if b.Management != nil {
		return battery.LithiumResists
	}
	return 0
}

// Believed is what the unit's controller takes a cell for at tick 0: the block when
// new and at 25 C, or one as it is, the worst of a string if it has learned.
func (b *Battery) Believed() battery.Params {
	if !b.Estimate.Learned {
		return b.Params()
	}
	p := b.Aged(0)
	if b.Weak != nil {
		p = p.Scaled(b.Weak.Capacity, b.Weak.Resistance)
	}
	return p
}
