package blocks

import (
	"fmt"

	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/num"
)

// Management is the management system of a block of lithium cells: when it
// disconnects the block, and how well it counts charge. Voltages are per cell,
// currents per string. From memory; the figures are common practice.
type Management struct {
	LowV       float64 // opens the discharge path at or below
	ReconnectV float64 // closes it again at or above
	HighV      float64 // opens the charge path at or above
	DischargeA float64 // longest-term current out; opens above
	ChargeA    float64 // largest current in

	// Degrees Celsius within which it lets the cells be charged, and discharged.
	ChargeMinC, ChargeMaxC       float64
	DischargeMinC, DischargeMaxC float64

	// The counter of charge multiplies by 1 + GainPct/100 and misses IdleA, which
	// the electronics draw past it; it is set to 100 % when the cells are at FullV
	// or more and take FullA or less. The voltage of a resting cell says too
	// little to correct it otherwise.
	GainPct float64
	IdleA   float64
	FullV   float64
	FullA   float64
}

// ManagementFor is the management system of a lithium block of ah.
func ManagementFor(ah float64) Management {
	return Management{
		LowV: 2.50, ReconnectV: 3.00, HighV: 3.65,
		DischargeA: ah, ChargeA: float64(0.5 * ah),
		ChargeMinC: 0, ChargeMaxC: 45, DischargeMinC: -20, DischargeMaxC: 60,
		GainPct: 1, IdleA: float64(0.0002 * ah), FullV: 3.45, FullA: float64(0.05 * ah),
	}
}

const lithiumCells = 4

// lithium are the blocks of lithium iron phosphate, by size.
func lithium() []Block {
	var list []Block
	for _, ah := range []float64{10, 20, 50, 100} {
		list = append(list, Block{
			Name: fmt.Sprintf("lfp-12.8v-%gah", ah), Technology: LFP, Cells: lithiumCells,
			CapacityAh: ah, Cell: lithiumCell(ah), Origin: Memory,
			Note: "rested voltage within 20 mV a cell; resistance includes that of the management system",
		})
	}
	return list
}

// lithiumCell is a cell of lithium iron phosphate with ah at the 20-hour rate.
// Its plateau is from memory, within 20 mV. A capacity of 97 to 99 % at one hour
// against five (from memory too) makes one weak mode enough; the resistance of 2 to
// 4 milliohms for 20 to 30 Ah, with a share of the management system's, gives
// 0.08 V at a current of 1/h times the capacity.
func lithiumCell(ah float64) battery.Params {
	return battery.Params{
		C: float64(1.002 * ah), N: 1, Modes: [battery.MaxModes]battery.Mode{{A: 0.5, Lambda: 20}},
		E0: 3.34, Es: 0.84, R: 0.08 / ah, B: 0.02,
		Open: battery.CurveThrough(
			num.Knot{X: 0, Y: 2.50}, num.Knot{X: 0.1, Y: 3.13}, num.Knot{X: 0.2, Y: 3.22}, num.Knot{X: 0.4, Y: 3.28},
			num.Knot{X: 0.7, Y: 3.30}, num.Knot{X: 0.9, Y: 3.33}, num.Knot{X: 1, Y: 3.34},
		),
	}
}
