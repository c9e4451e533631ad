package scenario

import "ridethrough/sim/internal/core/vtime"

type upsTable struct {
	table
	Topology     string  `key:"topology" def:"VI" one:"VI|VFI|VFD" doc:"Class of IEC 62040-3: VI, line-interactive; VFI, double conversion; VFD, standby."`
	Phases       string  `key:"phases" def:"1/1" one:"1/1|2/2|3/1|3/3" doc:"Lines in and out. More than one need topology VFI. 2/2 is split-phase, lines 1 and 2 of the supply half a period apart. The volts of this file are those of a line to neutral: between the two lines of a split phase there are twice as many, and what hangs there is a host without a line of its own."`
	Manufacturer string  `key:"manufacturer" def:"Invented Power" max:"31" ascii:"yes" doc:"Manufacturer that the card reports."`
	Model        *string `key:"model" auto:"by topology" max:"63" ascii:"yes" doc:"Model that the card reports."`
	Firmware     string  `key:"firmware" def:"1.0" max:"63" ascii:"yes" doc:"Firmware of the unit that the card reports."`
	RatingVA     float64 `key:"rating_va" def:"3000" min:"100" max:"1000000" doc:"Rated apparent power of the output, all lines together."`
	RatingW      float64 `key:"rating_w" def:"2700" min:"50" max:"1000000" doc:"Rated true power of the output, at most rating_va."`

	LowTransferV  *float64 `key:"low_transfer_v" auto:"77 % of nominal_v for VI, 80 % for VFD, 65 % for VFI, whole volts" min:"1" max:"500" doc:"Below this input the battery feeds the output. One line of three is enough."`
	HighTransferV *float64 `key:"high_transfer_v" auto:"122 % of nominal_v for VI, 115 % for VFD, 125 % for VFI, whole volts" min:"1" max:"500" doc:"Above this input the battery feeds the output."`
	BoostBelowV   *float64 `key:"boost_below_v" auto:"90 % of nominal_v, whole volts" min:"1" max:"500" doc:"VI only: below this input the autotransformer steps up."`
	ReduceAboveV  *float64 `key:"reduce_above_v" auto:"110 % of nominal_v, whole volts" min:"1" max:"500" doc:"VI only: above this input the autotransformer steps down."`
	Ratio         float64  `key:"ratio" def:"1.15" min:"1" max:"1.5" doc:"VI only: ratio of the autotransformer."`
	HysteresisV   *float64 `key:"hysteresis_v" auto:"2 % of nominal_v, whole volts" min:"0" max:"50" doc:"How far back inside a limit the input must come before the unit returns."`
	LowHz         *float64 `key:"low_hz" auto:"94 % of frequency_hz, 90 % for VFI" min:"30" max:"80" doc:"Below this frequency the battery feeds the output."`
	HighHz        *float64 `key:"high_hz" auto:"106 % of frequency_hz, 110 % for VFI" min:"30" max:"80" doc:"Above this frequency the battery feeds the output."`

	Transfer *vtime.Tick `key:"transfer" auto:"6ms for VI, 10ms for VFD, 4ms for VFI" min:"0ms" max:"1s" doc:"Gap in the output when it leaves a dead input for the battery. A VFI unit has one only in high-efficiency mode and on the bypass."`
	Qualify  vtime.Tick  `key:"qualify" def:"5s" min:"0s" max:"1h" doc:"How long the input must be good before it is taken back."`

	Retransfer retransferTable `key:"retransfer" doc:"How it bears with an input that goes bad as soon as it is given the load, as a generator does that is too small. Common practice; figures invented."`

	MainsLoss   mainsLossTable   `key:"mains_loss" doc:"Losses on mains as shares of rating_w: no_load + linear x + quadratic x^2, with x = output / rating_w. The defaults are invented and give 98 % at full load, 94 % for VFI, 99 % for VFD."`
	BatteryLoss batteryLossTable `key:"battery_loss" doc:"Losses on battery, likewise. The defaults give 94 % at full load."`

	HighEfficiency     bool            `key:"high_efficiency" def:"false" doc:"VFI only: feed the output through the static switch while the input is within the bypass window."`
	HighEfficiencyLoss staticLossTable `key:"high_efficiency_loss" doc:"Losses in that mode, likewise. The defaults give 99 % at full load."`
	SlewHzPerS         float64         `key:"slew_hz_per_s" def:"1" min:"0" max:"100" doc:"How fast the inverter follows the frequency of the bypass; 0: at once."`
	WalkIn             vtime.Tick      `key:"walk_in" def:"10s" min:"0s" max:"10m" doc:"VFI only: on a generator the rectifier takes the load over evenly in this time."`
	GeneratorChargePct float64         `key:"generator_charge_pct" def:"100" min:"0" max:"100" doc:"What the charger may take on a generator, in percent of its limit."`

	Bypass     bypassTable     `key:"bypass" doc:"The bypass past the converters, from the same input: a static switch that the unit closes itself when it cannot feed the output, and a switch by hand for maintenance."`
	BypassLoss bypassLossTable `key:"bypass_loss" doc:"Losses of the bypass, as of mains_loss; what the idle unit takes comes on top."`

	Overload         inputOverloadTable    `key:"overload" doc:"What the switches and the transformer between input and output bear: K / (x^2 - 1) seconds at x times the rating, by VA or W, whichever is more. IEC 62040-3 leaves the figures to the maker; these are common practice."`
	InverterOverload inverterOverloadTable `key:"inverter_overload" doc:"What the inverter bears, on battery and in double conversion, likewise."`
	BypassOverload   bypassOverloadTable   `key:"bypass_overload" doc:"What the static switch of the bypass bears, likewise."`
	Heat             converterTable        `key:"heat" doc:"The unit as a lump of heat in the room. The figures are invented."`

	LowBatteryMinutes int64  `key:"low_battery_minutes" def:"5" min:"1" max:"1440" doc:"Estimated runtime at which the battery counts as low."`
	ShutdownType      string `key:"shutdown_type" def:"output" one:"output|system" doc:"What an ordered shutdown switches off."`
	AutoRestart       bool   `key:"auto_restart" def:"true" doc:"Switch the output on when the mains return after a shutdown that happened while they were out."`
	Audible           string `key:"audible" def:"enabled" one:"disabled|enabled|muted" doc:"The audible alarm."`
}

type retransferTable struct {
	table
	Quick vtime.Tick `key:"quick" def:"10s" min:"0s" max:"1h" doc:"An input that goes bad within this time of being taken back has refused the load."`
	Limit int64      `key:"limit" def:"6" min:"0" max:"1000" doc:"After so many times in a row the input has to be good for hold before it is taken back, until it has carried the load for longer than quick. 0: the unit never learns, as some do."`
	Hold  vtime.Tick `key:"hold" def:"1m" min:"1s" max:"24h" doc:"That time."`
}

type mainsLossTable struct {
	table
	NoLoad    *float64 `key:"no_load" auto:"0.010 for VI, 0.020 for VFI, 0.005 for VFD" min:"0" max:"0.5" doc:"Constant part."`
	Linear    *float64 `key:"linear" auto:"0.003 for VI, 0.020 for VFI, 0.002 for VFD" min:"0" max:"0.5" doc:"Part that grows with the load."`
	Quadratic *float64 `key:"quadratic" auto:"0.007 for VI, 0.025 for VFI, 0.003 for VFD" min:"0" max:"0.5" doc:"Part that grows with its square."`
}

type batteryLossTable struct {
	table
	NoLoad    float64 `key:"no_load" def:"0.020" min:"0" max:"0.5" doc:"Constant part."`
	Linear    float64 `key:"linear" def:"0.020" min:"0" max:"0.5" doc:"Part that grows with the load."`
	Quadratic float64 `key:"quadratic" def:"0.025" min:"0" max:"0.5" doc:"Part that grows with its square."`
}

type staticLossTable struct {
	table
	NoLoad    float64 `key:"no_load" def:"0.004" min:"0" max:"0.5" doc:"Constant part."`
	Linear    float64 `key:"linear" def:"0.002" min:"0" max:"0.5" doc:"Part that grows with the load."`
	Quadratic float64 `key:"quadratic" def:"0.004" min:"0" max:"0.5" doc:"Part that grows with its square."`
}

type bypassLossTable struct {
	table
	NoLoad    float64 `key:"no_load" def:"0" min:"0" max:"0.5" doc:"Constant part."`
	Linear    float64 `key:"linear" def:"0.002" min:"0" max:"0.5" doc:"Part that grows with the load."`
	Quadratic float64 `key:"quadratic" def:"0.003" min:"0" max:"0.5" doc:"Part that grows with its square."`
}

type bypassTable struct {
	table
	Fitted *bool      `key:"fitted" auto:"true for VFI, else false" doc:"Whether there is one."`
	Supply string     `key:"supply" def:"input" one:"input|site|second" doc:"VFI only: what feeds it. input: the terminals of the unit's input; site: the site's supply past the breaker of the input; second: another utility feed, which bypass_source changes. A bypass with a feed of its own takes the load when the battery is exhausted."`
	LowV   *float64   `key:"low_v" auto:"90 % of nominal_v, whole volts" min:"1" max:"500" doc:"Below this voltage of any line the bypass may not feed the output."`
	HighV  *float64   `key:"high_v" auto:"110 % of nominal_v, whole volts" min:"1" max:"500" doc:"Above this voltage likewise."`
	LowHz  *float64   `key:"low_hz" auto:"96 % of frequency_hz" min:"30" max:"80" doc:"Below this frequency likewise; the inverter then runs at its own."`
	HighHz *float64   `key:"high_hz" auto:"104 % of frequency_hz" min:"30" max:"80" doc:"Above this frequency likewise."`
	Gap    vtime.Tick `key:"gap" def:"15ms" min:"0ms" max:"1s" doc:"Gap in the output at a change to or from the bypass while inverter and bypass are not synchronised; there is none otherwise. Common practice: 10 to 20 ms."`
}

type inputOverloadTable struct {
	table
	At125   vtime.Tick `key:"at_125_pct" def:"60s" min:"1ms" max:"24h" doc:"How long it bears 125 % of the rating, which sets K."`
	Borne   float64    `key:"borne_pct" def:"105" min:"100" max:"1000" doc:"What it bears for ever."`
	Instant float64    `key:"instant_pct" def:"1000" min:"101" max:"10000" doc:"What trips it at once."`
	Cools   vtime.Tick `key:"cools_in" def:"2m" min:"1ms" max:"24h" doc:"Time constant with which it cools down."`
}

type inverterOverloadTable struct {
	table
	At125   vtime.Tick `key:"at_125_pct" def:"60s" min:"1ms" max:"24h" doc:"How long it bears 125 % of the rating, which sets K."`
	Borne   float64    `key:"borne_pct" def:"105" min:"100" max:"1000" doc:"What it bears for ever."`
	Instant float64    `key:"instant_pct" def:"200" min:"101" max:"10000" doc:"What trips it at once."`
	Cools   vtime.Tick `key:"cools_in" def:"2m" min:"1ms" max:"24h" doc:"Time constant with which it cools down."`
}

type bypassOverloadTable struct {
	table
	At125   vtime.Tick `key:"at_125_pct" def:"10m" min:"1ms" max:"24h" doc:"How long it bears 125 % of the rating, which sets K."`
	Borne   float64    `key:"borne_pct" def:"110" min:"100" max:"1000" doc:"What it bears for ever."`
	Instant float64    `key:"instant_pct" def:"1000" min:"101" max:"10000" doc:"What trips it at once."`
	Cools   vtime.Tick `key:"cools_in" def:"2m" min:"1ms" max:"24h" doc:"Time constant with which it cools down."`
}

type converterTable struct {
	table
	CoolWPerK *float64 `key:"cool_w_per_k" auto:"so that the losses at full load raise it by 20 K" min:"0.01" max:"100000" doc:"Conductance to the room with its fans at work."`
	HeatJPerK *float64 `key:"heat_j_per_k" auto:"so that it takes 20 minutes to come to 63 % of that" min:"100" max:"100000000" doc:"Heat capacity."`
	NoFanPct  float64  `key:"no_fan_pct" def:"30" min:"1" max:"100" doc:"Share of the conductance that is left without fans."`
	WarnC     float64  `key:"warn_c" def:"60" min:"20" max:"150" doc:"Temperature of the unit that raises the alarm."`
	TripC     float64  `key:"trip_c" def:"75" min:"20" max:"200" doc:"Temperature of the unit at which its converters stop: the output goes to the bypass, or off."`
	DerateC   float64  `key:"derate_from_c" def:"40" min:"0" max:"100" doc:"Temperature of the room from which on the rating falls (IEC 62040-3: up to 40 C rated)."`
	DeratePct float64  `key:"derate_pct_per_k" def:"1.5" min:"0" max:"100" doc:"By how much it falls a kelvin."`
}
