package scenario

import "ridethrough/sim/internal/phys/battery"

// cellsPerBlock is that of 12 V lead-acid blocks.
const cellsPerBlock = 6

// cellTable is a cell as package battery has it, with two modes.
type cellTable struct {
	table
	Name    string  `key:"name" def:"fitted" max:"40" doc:"What to call it."`
	C       float64 `key:"c_ah" need:"yes" min:"0.1" max:"10000" doc:"Charge at an endlessly small current."`
	A1      float64 `key:"a1" need:"yes" min:"0" max:"100" doc:"Weight of the fast mode."`
	Lambda1 float64 `key:"lambda1_per_h" need:"yes" min:"0.001" max:"10000" doc:"Its decay."`
	A2      float64 `key:"a2" need:"yes" min:"0" max:"100" doc:"Weight of the slow mode."`
	Lambda2 float64 `key:"lambda2_per_h" need:"yes" min:"0.001" max:"10000" doc:"Its decay."`
	E0      float64 `key:"e0_v" need:"yes" min:"1.9" max:"2.5" doc:"Rested voltage when full."`
	Es      float64 `key:"es_v" need:"yes" min:"0" max:"1" doc:"Fall of the rested voltage from full to empty."`
	R       float64 `key:"r_ohm" need:"yes" min:"0" max:"10" doc:"Resistance."`
	B       float64 `key:"b_v" need:"yes" min:"0" max:"5" doc:"Overvoltage per e-fold of depletion at the plates."`
}

func (t *cellTable) params() battery.Params {
	return battery.Params{
		C: t.C, N: 2,
		Modes: [battery.MaxModes]battery.Mode{{A: t.A1, Lambda: t.Lambda1}, {A: t.A2, Lambda: t.Lambda2}},
		E0:    t.E0, Es: t.Es, R: t.R, B: t.B,
	}
}
