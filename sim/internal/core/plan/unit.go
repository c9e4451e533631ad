package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// UPS is the unit. Voltages are RMS volts at its input, powers are at its
// output unless said otherwise.
type UPS struct {
	Topology          Topology
	LinesIn, LinesOut int // 1, 2 or 3; 0 counts as 1

	Manufacturer, Model, Firmware string
	RatingVA, RatingW             float64

	// LowTransferV and HighTransferV bound the input that the output may be fed
	// from without the battery; BoostBelowV and ReduceAboveV say where the
	// autotransformer steps up or down by Ratio, inside that window.
	LowTransferV, HighTransferV float64
	BoostBelowV, ReduceAboveV   float64
	Ratio                       float64
	LowHz, HighHz               float64
	HysteresisV                 float64

	// Transfer is the gap when the output leaves a dead input for the battery. A
	// double-conversion unit has it only where the input feeds the output past the
	// converters: in high-efficiency mode and on bypass.
	Transfer vtime.Tick
	Qualify  vtime.Tick // how long the input must be good before it is taken back
	Retransfer

	// Losses as a share of RatingW: a + b x + c x^2 with x = output / RatingW.
	MainsLoss, BatteryLoss LossCurve

	// What follows is for double conversion only, save the bypass.
	HighEfficiency     bool // feeds the output through the static switch while the input is good enough
	HighEfficiencyLoss LossCurve
	SlewHzPerS         float64    // how fast the output follows the frequency of the bypass
	WalkIn             vtime.Tick // in which the rectifier takes the load over from the battery on a generator

	GeneratorCharge float64 // share of the charger's limit that it may use on a generator, 0..1
	Bypass          Bypass
	BypassLoss      LossCurve

	// Overload is borne by what is in the way of the power: the passive parts
	// between input and output, the inverter, the bypass.
	Overload, InverterOverload, BypassOverload Overload
	Converter                                  Converter

	LowBatteryMinutes int
	ShutdownType      int // 1 output, 2 system
	AutoRestart       bool
	Audible           snap.Audible
}

// LossCurve is no-load, linear and quadratic converter loss as shares of the rating.
type LossCurve struct {
	NoLoad, Linear, Quadratic float64
}
