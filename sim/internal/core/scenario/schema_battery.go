package scenario

import "ridethrough/sim/internal/core/vtime"

type batteryTable struct {
	table
	Block      string     `key:"block" auto:"agm-12v-9ah, unless capacity_ah or params is given" max:"40" doc:"A block of the library below."`
	CapacityAh *float64   `key:"capacity_ah" auto:"that of the block" min:"0.5" max:"5000" doc:"20-hour capacity of one string, instead of block: a typical cell of that size."`
	Params     *cellTable `key:"params" doc:"The figures of one cell, instead of block; ridethrough fit writes them for a discharge table."`
	Series     int64      `key:"series" def:"6" min:"1" max:"60" doc:"Blocks in series in one string."`
	Strings    int64      `key:"strings" def:"1" min:"1" max:"20" doc:"Strings in parallel."`
	ChargePct  float64    `key:"charge_pct" def:"100" min:"0" max:"100" doc:"Charge at the start."`
	CutoffV    *float64   `key:"cutoff_v_per_cell" auto:"1.70, lithium iron phosphate 2.80" min:"1.5" max:"3.2" doc:"The unit ends a discharge at this voltage of a cell."`
	AmbientC   float64    `key:"ambient_c" def:"25" min:"-20" max:"60" doc:"Temperature around the battery at the start, and all the time without a [room]."`
	ColdestC   *float64   `key:"coldest_c" auto:"ambient_c" min:"-20" max:"60" doc:"The coldest that its place becomes in a year. For ridethrough budget; a run does not look at it."`
	HottestC   *float64   `key:"hottest_c" auto:"ambient_c" min:"-20" max:"60" doc:"The hottest, likewise."`

	FloatV           *float64 `key:"float_v_per_cell" auto:"13.6 V a block of lead-acid, 2.267 V a cell; lithium iron phosphate 3.45 V" min:"2.15" max:"3.6" doc:"The charger's voltage of a cell at 25 degrees Celsius."`
	CompensationMVK  *float64 `key:"compensation_mv_per_k" auto:"3, lithium iron phosphate 0" min:"0" max:"10" doc:"By how much the charger lowers that voltage for each kelvin that the battery is warmer, in millivolts a cell."`
	ChargeA          *float64 `key:"charge_a" auto:"0.2 A for each Ah" min:"0.01" max:"1000" doc:"The charger's limit, all strings together."`
	SelfDischargePct float64  `key:"self_discharge_pct" def:"3" min:"0" max:"30" doc:"What a resting battery loses of its capacity in a month at 25 degrees Celsius, twice that for every 10 kelvins more."`

	AgeYears  float64      `key:"age_years" def:"0" min:"0" max:"40" doc:"Years on float at ambient_c before the start. They take capacity and add resistance."`
	LifeYears float64      `key:"life_years" def:"10" min:"1" max:"30" doc:"Life on float at 25 degrees Celsius, to 80 % of capacity; 8.33 kelvins more halve it."`
	Health    *healthTable `key:"health" auto:"from age_years" doc:"What the cells have kept of what they had when new, whatever their age."`
	WeakBlock *weakTable   `key:"weak_block" auto:"none" doc:"One block of one string is worse than all others."`
	OpenBlock bool         `key:"open_block" def:"false" doc:"A broken block has opened one string: it carries nothing. On float nobody sees it."`

	Learned  bool          `key:"learned" def:"false" doc:"The unit knows the cells as they are, as after a calibration, instead of taking them for new and at 25 degrees Celsius."`
	Estimate estimateTable `key:"estimate" doc:"How the unit comes to the runtime that it shows."`
}

type healthTable struct {
	table
	CapacityPct   *float64 `key:"capacity_pct" auto:"from age_years" min:"5" max:"110" doc:"Capacity."`
	ResistancePct *float64 `key:"resistance_pct" auto:"from age_years" min:"50" max:"1000" doc:"Resistance."`
}

type weakTable struct {
	table
	CapacityPct   float64 `key:"capacity_pct" need:"yes" min:"1" max:"100" doc:"Its capacity against that of the others."`
	ResistancePct float64 `key:"resistance_pct" def:"100" min:"100" max:"5000" doc:"Its resistance against theirs."`
}

type estimateTable struct {
	table
	Filter          vtime.Tick `key:"filter" def:"0s" min:"0s" max:"10m" doc:"Time constant with which it follows the load."`
	Quantum         vtime.Tick `key:"quantum" def:"0s" min:"0s" max:"10m" doc:"Steps in which it shows the runtime, rounded down; 0s: none."`
	CounterErrorPct *float64   `key:"counter_error_pct" auto:"0, lithium iron phosphate 1" min:"-20" max:"20" doc:"Error of its counter of charge, which begins anew whenever the battery is full."`
}
