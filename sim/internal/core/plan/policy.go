package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ReturnRule says what the policy does when the mains return after it began.
type ReturnRule uint8

// Return rules.
const (
	ReturnFinish ReturnRule = iota // before the first host was told: cancel; after: finish the cycle
	ReturnCancel                   // always cancel the countdown, whatever was already stopped
	ReturnIgnore                   // always go on
)

// Client is how software of the site speaks with the card over SNMP, whatever is set on
// the card.
type Client struct {
	Version string // "v1", "v2c" or "v3"
	// Communities of v1 and v2c, to read and to write. Nil: those that the scenario gave
	// the card.
	Read, Write *snap.Secret
	// As is who it is in v3, with the passwords that it has and the level at which it
	// asks; its views are not used. Nil: a user of whom nothing is wrong.
	As *snap.User
}

// Policy is the modelled shutdown manager: software on the network that polls
// the card, decides, tells hosts to stop and tells the UPS to switch off. A
// zero trigger is not used.
type Policy struct {
	Peer    int        // machine that it runs on; -1: one that the card always reaches while it has an address
	Client             // how it asks and orders
	Poll    vtime.Tick // between polls
	Timeout vtime.Tick // of one request
	Retries int        // of one that is not answered
	Confirm int        // polls in a row that must agree; at least 1

	OnBatteryFor     vtime.Tick // trigger: this long on battery
	RuntimeBelow     vtime.Tick // trigger: estimated runtime below
	ChargeBelow      float64    // trigger: charge in percent below
	OnLowBattery     bool       // trigger: the card says low or depleted
	InletAbove       float64    // trigger, on mains too: the probe Inlet shows more, in degrees Celsius
	Inlet            string     // name of that probe; "": the trigger is not used
	EvenOnMains      bool       // wrong on purpose: act on runtime, charge or low battery while on mains
	CardTimer        bool       // wrong on purpose: believe the card's seconds-on-battery instead of an own clock
	MinutesAsSeconds bool       // wrong on purpose: take the runtime's minutes for seconds
	IgnoreSilence    bool       // wrong on purpose: silence while on battery counts as mains
	TrustOrder       bool       // wrong on purpose: never looks whether the countdown that it ordered still runs
	UnknownIsMains   bool       // wrong on purpose: while on battery an output source that is not told counts as mains
	AcceptInvalid    bool       // wrong on purpose: takes a runtime or charge that the standard does not allow as it is
	AlarmsAlone      bool       // wrong on purpose: a failed test counts only if the alarm table has it
	DistrustJumps    bool       // does not believe a runtime or charge that falls to less than a sixth from one poll to the next
	IgnoreTest       bool       // true: battery operation during a self test does not count
	BatteryAsInlet   bool       // wrong on purpose: takes the temperature of the battery for that of the inlet
	LastSample       bool       // wrong on purpose: acts on what the poll before has read
	FirstOutage      bool       // wrong on purpose: not armed again after an outage in which it began

	HostDeadline vtime.Tick // per host; then it goes on without it
	InOrder      bool       // stop what needs others first; false: all at once
	OffDelay     vtime.Tick // countdown that it orders from the UPS
	OffWhen      string     // "stopped": when all hosts stopped or passed their deadline; "at-once": together with the stop orders
	StartDelay   vtime.Tick // startup countdown armed with the off order; vtime.Never: none
	OnReturn     ReturnRule
	StopDualFed  bool // wrong on purpose: stop hosts too that have live mains past the UPS

	MinOff    vtime.Tick // restart gate: output off at least this long
	MinCharge float64    // restart gate, percent
}
