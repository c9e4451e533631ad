package snap

import "ridethrough/sim/internal/core/vtime"

// HostState is where a protected machine is in its life.
type HostState uint8

// Host states.
const (
	HostOff      HostState = iota // no power, or powered and left off
	HostBooting                   // starting up
	HostRunning                   // at work
	HostStopping                  // told to stop, not yet stopped
	HostStopped                   // stopped by itself, its outlet still live
	HostCut                       // lost its power while booting, running or stopping
)

// String is a word for s.
func (s HostState) String() string {
	return nameOf([]string{"off", "booting", "running", "stopping", "stopped", "cut"}, int(s))
}

// Host is one protected machine as it truly is.
type Host struct {
	Name    string
	State   HostState
	Powered bool
	// Ended is how its last run ended: "" while none has ended, "clean" or "cut".
	Ended  string
	Starts int // times it came to running, not counting the state at tick 0
	Stops  int // times it stopped cleanly
	Cuts   int // times it was cut
	DrawW  float64
	// Since is when it entered State.
	Since vtime.Tick
}

// Group is one outlet group as it truly is.
type Group struct {
	Name string
	On   bool // its outlets are live
}

// Feed is the truth about the supply.
type Feed struct {
	Volts, Hz float64
	Good      bool // within the unit's input window
}

// Power is the truth about where power goes, in watts, and what has been summed
// up since tick 0, in watt-hours. MainsWh + BatteryWh = OutputWh + LossWh up to
// the integration error, with BatteryWh the fall of the battery's stored energy.
type Power struct {
	MainsW, OutputW, LossW, BatteryW     float64 // BatteryW: fall of stored energy per time
	MainsWh, OutputWh, LossWh, BatteryWh float64
	OutputVA, LoadPct                    float64
}

// PolicyStage is where the modelled shutdown manager is.
type PolicyStage uint8

// Policy stages.
const (
	PolicyWatching   PolicyStage = iota // nothing to do
	PolicyConfirming                    // a trigger holds, not yet confirmed
	PolicyStopping                      // hosts have been ordered to stop
	PolicyOffOrdered                    // the UPS was told to switch off
	PolicyRestarting                    // power is back, gates not yet passed
)

// String is a word for s.
func (s PolicyStage) String() string {
	return nameOf([]string{"watching", "confirming", "stopping", "off-ordered", "restarting"}, int(s))
}

// Sent counts the notifications that the card has issued, by kind.
type Sent [NotifyKinds]int

// Site is everything at one tick: the device as its card knows it, and the
// truth, which only the bench, the trace and expectations see.
type Site struct {
	Device
	Feed      Feed
	Power     Power
	ChargePct float64 // the battery's true charge; Device has the unit's figure
	Hosts     []Host
	Groups    []Group
	Policy    PolicyStage
	Sent      Sent
	Transfers int // times the output went from mains to battery
}
