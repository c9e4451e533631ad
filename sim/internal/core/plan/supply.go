package plan

import "ridethrough/sim/internal/core/vtime"

// Source is the utility: nominal RMS volts and hertz.
type Source struct {
	Volts, Hz  float64
	Generator  *Generator // nil: there is none
	Changeover Changeover // if there is a generator
}

// Change is what a timeline entry makes of the utility.
type Change struct {
	Volts, Hz float64
	Line      int        // 1..3; 0: all lines
	Lasts     vtime.Tick // 0: until changed
	Over      vtime.Tick // gets there evenly over this time; 0: at once

	// A train: Count dips (0 or 1: one), the next beginning Every after the one
	// before and up to Jitter later, each for a time from Lasts to LastsUpTo.
	Count     int
	Every     vtime.Tick
	Jitter    vtime.Tick
	LastsUpTo vtime.Tick // 0: Lasts
}

// Generator is a standby generator behind a changeover switch.
type Generator struct {
	RatingW    float64
	StartAfter vtime.Tick // utility bad for this long before it is started
	StartTakes vtime.Tick // from the order to voltage at its terminals
	Settles    vtime.Tick // how long it wanders after that
	WanderV    float64    // largest departure in volts at the beginning of that
	WanderHz   float64    // likewise in hertz
	Period     vtime.Tick // of the wandering
	DroopHz    float64    // fall of the frequency from no load to RatingW, steady
	StepHz     float64    // further fall for a step of RatingW, passing
	StepV      float64    // fall of the voltage for a step of RatingW, passing
	Recovers   vtime.Tick // time constant of what passes
	CoolsDown  vtime.Tick // runs on without load after the utility has taken over
	Failed     bool       // does not start

	// What it protects itself by: it stops and stays locked out when it has borne
	// Overload for too long, or when voltage or frequency were below TripV or TripHz,
	// shares of nominal, for TripAfter.
	Overload      Overload
	TripV, TripHz float64
	TripAfter     vtime.Tick
}

// Changeover is the switch between utility and generator.
type Changeover struct {
	Gap    vtime.Tick // dead time, both ways
	Accept vtime.Tick // generator within the window for this long before the load goes to it
	Watch  vtime.Tick // utility within the window for this long before the load goes back
	// The window, as shares of nominal.
	LowV, HighV, LowHz, HighHz float64
}

// Inrush is what a group takes when its outlets become live: Times the nominal
// current of its hosts for Lasts.
type Inrush struct {
	Times float64 // 1 or more; 0: none
	Lasts vtime.Tick
}
