package snap

import (
	"ridethrough/sim/internal/core/vtime"
)

// Lines is a set of up to three phases.
type Lines struct {
	Count     int
	Frequency float64 // Hz, of the set; the input also reports it per line
	Lines     [3]Line
}

// Line is one phase: RMS volts, RMS amperes, true watts, and load in percent of
// rating (0..200; meaningful on the output only).
type Line struct {
	Volts, Amps, Watts, LoadPct float64
}

// UPS is the unit's own controller as its card reads it.
type UPS struct {
	Manufacturer, Model, Firmware string

	Source   OutputSource
	OutputOn bool
	SystemOn bool

	// OnBatterySince is the tick of the last transfer to battery, or of the
	// card's start if that came later; vtime.Never when not on battery.
	OnBatterySince vtime.Tick

	// LineBads counts the times that the input went out of tolerance: that the
	// number of lines out of it went from none to one or more, and not back to none
	// within [Upkeep.LeastBad].
	LineBads uint32

	AwaitsCharge   bool // the output is off and comes on with enough charge
	HighEfficiency bool // the static switch feeds the output from the input
	BypassGood     bool // a bypass is fitted and within its window
	Synchronised   bool // the inverter is in step with a good bypass
}

// Battery is what the unit measures and estimates of its battery.
type Battery struct {
	Status    BatteryStatus
	RuntimeS  float64 // estimated seconds at the present load
	ChargePct float64 // 0..100
	Volts     float64 // at the terminals of the whole string
	Amps      float64 // positive while discharging, negative while charging
	TempC     float64
	// HealthPct is the capacity that the unit knows of, in percent of the rated one:
	// 100 until a calibration has found another.
	HealthPct float64
}

// Test is the state of the test group.
type Test struct {
	ID       TestKind // running, else last, else TestNone
	SpinLock int32    // RFC 2579 TestAndIncr
	Result   TestResult
	Detail   string
	Started  vtime.Tick // absolute; before the agent's start or never: 0 is shown
	Ended    vtime.Tick // vtime.Never while running
}

// Control is the state of the control group. A deadline is vtime.Never when no
// countdown runs.
type Control struct {
	ShutdownType int // 1 output, 2 system (RFC 1628 upsShutdownType)
	ShutdownAt   vtime.Tick
	StartupAt    vtime.Tick
	RebootUntil  vtime.Tick // when the running reboot switches on again
	AutoRestart  bool
}

// Config is the state of the config group, in volts, hertz, VA, W and minutes.
type Config struct {
	InputVolts, InputHz   float64
	OutputVolts, OutputHz float64
	OutputVA, OutputWatts float64
	LowBatteryMinutes     int
	Audible               Audible
	LowTransferVolts      float64
	HighTransferVolts     float64
}
