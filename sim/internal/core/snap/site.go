package snap

import (
	"time"

	"ridethrough/sim/internal/core/vtime"
)

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
	Channel Channel
	Refused uint32 // orders to stop that its channel did not take
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
	Name   string
	On     bool // its outlets are live
	LoadW  float64
	OffAt  vtime.Tick // when it last went off; vtime.Never: it never did
	WasOff vtime.Tick // how long it was off the last time, while it is on
	Cause  GroupCause
	// Right: what the card believes to be on it is what is on it.
	Right bool
}

// Feed is the truth about the supply at the unit's input.
type Feed struct {
	Volts, Hz float64 // Volts is that of line 1
	Good      bool    // every line is within the unit's input window

	// V is the RMS voltage of each line to neutral; the first Lines count.
	V     [3]float64
	Lines int
	Bad   [3]bool // lines out of the unit's input window
}

// BypassFeed is RMS volts of line 1 and hertz at the bypass.
type BypassFeed struct{ Volts, Hz float64 }

// Power is the truth about where power goes, in watts, and what has been summed
// up since tick 0, in watt-hours. MainsWh + BatteryWh = OutputWh + LossWh up to
// the integration error, with BatteryWh the fall of the battery's stored energy.
type Power struct {
	MainsW, OutputW, LossW, BatteryW     float64 // BatteryW: fall of stored energy per time
	MainsWh, OutputWh, LossWh, BatteryWh float64
	OutputVA, LoadPct                    float64
	// StrainPct is the overload that what feeds the output has borne so far, in
	// percent of what it bears.
	StrainPct float64
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

// SwitchPosition is where the changeover switch of the site stands.
type SwitchPosition uint8

// Positions.
const (
	OnUtility SwitchPosition = iota // also where there is no switch
	SwitchOpen
	OnGenerator
)

// String is a word for p.
func (p SwitchPosition) String() string {
	return nameOf([]string{"utility", "open", "generator"}, int(p))
}

// GeneratorState is where the standby generator is.
type GeneratorState uint8

// Generator states.
const (
	GeneratorNone GeneratorState = iota // there is none
	GeneratorStopped
	GeneratorStarting
	GeneratorRunning
	GeneratorCooling // runs on without load
	GeneratorFailed
	GeneratorTripped // has protected itself, and stands still until it is reset
)

// String is a word for g.
func (g GeneratorState) String() string {
	return nameOf([]string{"none", "stopped", "starting", "running", "cooling", "failed", "tripped"}, int(g))
}

// Supply is the truth about where the site's supply comes from, and what has
// been wrong with it so far. A voltage event counts when it ends; see package
// core/voltage.
type Supply struct {
	Switch    SwitchPosition
	Generator GeneratorState
	Events    int     // voltage events by IEEE 1159
	NotBorne  int     // those of them that equipment on the ITI curve does not bear
	LoadPct   float64 // of the generator, of its rating
}

// Room is the truth about the room. Heat is what warms it up, Cooling what is
// taken away, in watts.
type Room struct {
	TempC, HumidityPct float64
	HeatW, CoolingW    float64
}

// Of is the unit of the site with that number, 0 for the first.
func (s *Site) Of(unit int) *Site {
	if unit == 0 {
		return s
	}
	return s.Units[unit-1]
}

// Sent counts the notifications that the card has issued, by kind.
type Sent [NotifyKinds]int

// ByName is the counts by the names of the kinds.
func (s Sent) ByName() map[string]int {
	m := make(map[string]int, NotifyKinds-1)
	for k := NotifyKind(1); k < NotifyKinds; k++ {
		m[k.String()] = s[k]
	}
	return m
}

// Site is everything at one tick: the device as its card knows it, and the
// truth, which only the bench, the trace and expectations see.
type Site struct {
	Device
	Unit  string    // name of a further unit of a site, "" for the first
	Units []*Site   // the further units, in the order of the plan; Hosts and Groups are the same of all
	Held  *Device   // what the card read last of a unit that it has lost; see [Site.Seen]
	Start time.Time // the true date of tick 0, which the card need not know
	Feed  Feed
	// BypassFeed is what reaches the bypass; zero without one.
	BypassFeed BypassFeed
	Supply     Supply
	Room       Room
	Net        Network
	Power      Power
	ChargePct  float64 // the battery's true charge; Device has the unit's figure
	// TrueRuntimeS is how many seconds the battery as it is carries the present load,
	// or would if the mains failed now; Device has the unit's estimate.
	TrueRuntimeS float64
	// HealthPct is the true capacity at 25 C of the worst cell, in percent of the rated
	// one, 0 if every string is open.
	HealthPct float64
	Hosts     []Host
	Groups    []Group
	Policy    PolicyStage
	Shutdowns uint32   // times that it began to stop hosts
	Called    bool     // the modelled shutdown manager has called for service of the battery
	Monitor   *Monitor // the modelled monitoring manager; nil: there is none
	Sent      Sent
	// Acked and Unacked count informs, once for each receiver, that were
	// acknowledged and that were given up.
	Acked, Unacked Sent
	SignIns        SignIns
	Posts          *Posts // what became of mails and syslog messages; nil: there were none
	Sinks          []Sink // what arrived, in the order of the plan; it never changes
	Warned         int    // warnings of what has nearly served its time
	Transfers      int    // times the output went from mains to battery

	HoldsOff   bool       // the unit distrusts its input: see [plan.Retransfer]
	UnitC      float64    // inside of the unit, without its battery
	PeakPct    float64    // highest load of the output so far, in percent of its rating
	LongestGap vtime.Tick // longest dead time of a change of source that the output has seen
}
