package plan

import (
	"net/netip"
	"time"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Plan is one checked scenario.
type Plan struct {
	Title  string
	Seed   uint64
	Start  time.Time // calendar date of tick 0
	RunFor vtime.Tick

	Source  Source
	UPS     UPS
	Battery Battery
	Card    Card
	Network Network
	Groups  []Group
	Hosts   []Host
	Room    *Room // nil: always at Battery.AmbientC
	Probes  []Probe
	Servers []Server
	Policy  *Policy  // nil: nobody decides but the software under test
	Monitor *Monitor // nil: nobody watches but the software under test
	Entries []Entry
	Expects []Expect
	Fleet   *Fleet // nil: this is one site

	TimeServers []TimeServer
	Releases    []Release // of the card's firmware

	Switches []Switch
	Peers    []Peer

	LoginServers []LoginServer
}

// Source is the utility: nominal RMS volts and hertz.
type Source struct {
	Volts, Hz  float64
	Generator  *Generator // nil: there is none
	Changeover Changeover // if there is a generator
}

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

// Card is the network card and what was set on it.
type Card struct {
	Identity snap.Identity
	Settings snap.Settings // never changed once a card is made of it
	Offer    netip.Prefix  // what the address server keeps for it; invalid: that of the [Network]
	Memory   *snap.Memory  // what it has kept, checked; empty: it is new; nil: so too, and it keeps nothing
	Boots    uint32        // starts before, of a card without a memory
	*CardMake
}

// CardMake is what the cards of a fleet have in common.
type CardMake struct {
	BootTakes vtime.Tick
	Watchdog  vtime.Tick // a card that hangs restarts after this; vtime.Never: it has none
	UnitTakes vtime.Tick // from its first answer to its first contact with the unit
	// RestartAborts: a restart of the card loses a running shutdown countdown,
	// which RFC 1628 allows (upsShutdownAfterDelay).
	RestartAborts bool
	Forgets       bool      // its journals do not outlive its starts
	User          string    // factory login; the password derives from seed and serial number
	MustChange    bool      // the password on the label has to be changed at the first sign-in
	Accounts      []Account // beside the factory login
	Receivers     []Receiver
	Access        *snap.Access // nil: that of [snap.DefaultAccess]
	NoLogin       bool         // it has no surface to sign in at, and so no accounts
	Quirks        []snap.Quirk // in force from the beginning, each kind once
	// ReadFromSeed and WriteFromSeed: the community was derived from seed and serial
	// number, and so will be that of every device of a fleet.
	ReadFromSeed, WriteFromSeed bool
	Private                     bool // it sends the notifications of our own module
	Clock                       CardClock
	ImageKey                    string // public key of whoever makes its firmware
}

// Like gives c a make of its own, a copy that may be changed, and returns it.
func (c *Card) Like() *CardMake {
	own := *c.CardMake
	c.CardMake = &own
	return c.CardMake
}

// CardClock is the card's own clock; the zero value is a clock that is right.
type CardClock struct {
	Offset    vtime.Tick     // how far ahead of the true date at tick 0
	DriftPPB  int64          // how much too fast, in parts per billion
	NoBattery bool           // it does not go on without supply
	Unset     bool           // at tick 0 nobody has set it
	Zone      *time.Location // of the zone in the settings; nil: to be made of its rule
}

// Account is somebody whom the card knows when the scenario begins. The password is
// no secret: it stands in the scenario or derives from its seed.
type Account struct {
	User     string
	Role     snap.Role
	Password string
}

// Receiver is where the card sends notifications: a simulated address, which
// serve maps to a loopback endpoint.
type Receiver struct {
	To        netip.AddrPort
	Version   string // "v1", "v2c" or "v3"
	Community string // of SNMPv1 and SNMPv2c

	User  string             // of SNMPv3
	Level snap.SecurityLevel // of SNMPv3

	snap.AlertRule // what it gets

	// Inform asks for an acknowledgement and repeats the notification Retries
	// times while there is none: Timeout after the first message, twice as long
	// after each further one. Timeout is real time, because receivers are real.
	Inform  bool
	Retries int
	Timeout vtime.Tick
}

// TimeServer is a time server of the site.
type TimeServer struct {
	Name    string
	Address netip.Addr
	Silent  bool
	WrongBy vtime.Tick // how far its date is ahead of the true one
	Delay   vtime.Tick // from the question to the answer
	Stratum int        // RFC 5905: 16 if it is not synchronised itself
	Group   int        // outlet group that feeds it; -1: it always has power
}

// TimeChange is what a timeline entry makes of a time server.
type TimeChange struct {
	Server  int
	Answers *bool
	WrongBy *vtime.Tick
	Stratum *int
}

// Group is one outlet group.
type Group struct {
	Name    string
	OnDelay vtime.Tick // after the output came on
	// OffDelay sheds the group this long after a shutdown countdown was started;
	// vtime.Never (the default): it opens with the output.
	OffDelay vtime.Tick
	// FromMains: fed by the site's supply itself, past the UPS. Such a group is
	// live whenever the supply is; the delays mean nothing to it.
	FromMains bool
	Inrush    Inrush
	Rules
}

// RestartRule says what a host does when its outlet becomes live again.
type RestartRule uint8

// Restart rules.
const (
	RestartOn   RestartRule = iota // boots whenever power returns
	RestartLast                    // boots only if it was not stopped when power went
	RestartOff                     // stays off
)

// Host is one protected machine.
type Host struct {
	Name        string
	Groups      []int // indices into Groups, one for each of its supplies
	Believed    []int // those that the card was told of; nil: Groups
	Line        int   // output line that feeds it, from 1; 0: spread over all lines
	DrawW       float64
	IdleW       float64 // drawn while stopped with the outlet live
	PowerFactor float64
	HoldUp      vtime.Tick // longest gap it rides through
	Stop        vtime.Tick
	Boot        vtime.Tick
	Needs       []int // indices of hosts that it needs while it runs and stops
	Restart     RestartRule
	Process     []string // program and arguments; empty: modelled
	Hangs       bool     // never finishes stopping
	Channel     snap.Channel
	Wired       *Wired // it also stops by a relay of the card; nil: it does not
}

// Wired is a host's input for a contact: it stops once the contact has been in a
// position for a time.
type Wired struct {
	Output int // of the card, from 1
	Closed bool
	For    vtime.Tick
}

// ReturnRule says what the policy does when the mains return after it began.
type ReturnRule uint8

// Return rules.
const (
	ReturnFinish ReturnRule = iota // before the first host was told: cancel; after: finish the cycle
	ReturnCancel                   // always cancel the countdown, whatever was already stopped
	ReturnIgnore                   // always go on
)

// Policy is the modelled shutdown manager: software on the network that polls
// the card, decides, tells hosts to stop and tells the UPS to switch off. A
// zero trigger is not used.
type Policy struct {
	Peer    int        // machine that it runs on; -1: one that the card always reaches while it has an address
	Poll    vtime.Tick // between polls
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

// Entry is one entry of the timeline: Actions happen at At, or when When
// becomes true for the first time after the entries before it.
type Entry struct {
	Line    int        // in the scenario file
	At      vtime.Tick // vtime.Never if When is used
	When    *Cond      // nil if At is used
	Actions []Action
	Note    string
	Devices []Range // of a fleet to which it happens; nil: all
}

// Cond is a type-checked expression over what the bench sees. Show prints the
// variables it looks at with their values, for a verdict; it may be nil.
type Cond struct {
	Text string
	Eval func(*snap.Site) bool
	Show func(*snap.Site) string
}

// ActionKind says what an entry does.
type ActionKind uint8

// Actions.
const (
	ActSource      ActionKind = iota // Change of the utility
	ActCardRestart                   // the card restarts
	ActTest                          // Test is started at the unit's panel
	ActHost                          // changes to Host: Draw, StopTakes, Hangs, Channel, Order
	ActAlarm                         // Alarm raised (On) or cleared by the bench
	ActCharger                       // charger fails (On false) or is mended
	ActDHCP                          // address server comes (On) or goes
	ActOutput                        // output switched On or off at the unit's panel
	ActCharge                        // true charge set to Value percent, as if by history
	ActLink                          // network lead of the card in (On) or out
)

// Actions on the site, continued.
const (
	ActGenerator    ActionKind = 64 + iota // generator fails (On false) or is mended
	ActCooling                             // cooling fails or is mended
	ActFan                                 // fan of the unit fails or is mended
	ActProbe                               // cable of Probe is in (On) or out
	ActContact                             // Wire of Contact, which rattles for Lasts of Change before
	ActInput                               // breaker at the unit's input is closed (On) or open
	ActBypassSource                        // Change of the second feed, which is on the bypass
	ActProbeSwap                           // Probe and Other change their sockets, or their places with On
	ActProbePlace                          // place of Probe is Value K warmer and Damp percent damper, for Lasts of Change
)

// Actions on the power path.
const (
	ActBypass         ActionKind = 96 + iota // Order: "on", "off" or "maintenance", at the unit's panel
	ActInverter                              // inverter fails (On false) or is mended
	ActHighEfficiency                        // high-efficiency mode is allowed (On) or not
	ActReplace                               // battery is replaced by blocks charged to Value percent, Left of the old ones
	ActHealthReset                           // somebody tells the unit through the card that its battery is new
)

// OldBlock is what of an old battery stays in the new one by mistake.
type OldBlock uint8

// Old blocks.
const (
	NoOldBlock  OldBlock = iota
	AgedBlock            // one as worn as all were
	FaultyBlock          // the one that was worse than the others
)

// Actions on the card.
const (
	ActQuirk       ActionKind = 128 + iota // Quirk comes into force (On) or goes; of kind 0 all go
	ActTime                                // Time server changes
	ActClock                               // the card's clock is set by hand, Offset ahead of the true date
	ActSettings                            // somebody saves Settings on the card
	ActFirmware                            // Update of the card's firmware
	ActLabel                               // somebody changes the password on the label
	ActSignIn                              // SignIn is tried
	ActAccount                             // Account is changed
	ActLoginServer                         // the server of that number, Host, does as Order says
)

// Actions on the life of the card and on the network.
const (
	ActCardLife ActionKind = 176 + iota // Order: "remove", "insert" or "hang"
	ActUnitLink                         // connection between card and unit is there (On) or cut
	ActNetwork                          // Net
	ActHostKey                          // the SSH server gets another host key
)

// Actions on the outlets.
const (
	ActSwitch  ActionKind = 192 + iota // Order for outlet group Group from a surface of the card
	ActLockout                         // switching from remote is locked out at the unit (On) or allowed
)

// Actions on servers.
const (
	ActServer ActionKind = 160 + iota // Server changes
	ActPolicy                         // somebody tells the policy to "stop" the site now, or to "start" it again: Order
	ActTry                            // somebody asks for a test message to Order, or with "" to everybody
)

// Action is one thing that happens to the site.
type Action struct {
	Kind    ActionKind
	Left    OldBlock
	On      bool
	Change  Change
	Probe   int
	Other   int
	Damp    float64
	Contact int // counted over all probes
	Wire    Wire
	Test    snap.TestKind
	Alarm   snap.AlarmKind
	Host    int
	Group   int
	Draw    *float64
	Stop    *vtime.Tick
	Hangs   *bool
	Channel *snap.Channel
	Order   string // "stop" tells the host to stop
	By      string // who does it
	Value   float64
	Quirk   snap.Quirk
	Server  ServerChange

	Time     *TimeChange
	Offset   vtime.Tick
	Settings []setting.Value
	Update   Update // of the firmware
	Net      *NetChange
	SignIn   *SignIn
	Account  *AccountChange
}

// ExpectForm is the temporal form of an expectation.
type ExpectForm uint8

// Forms.
const (
	AtEnd      ExpectForm = iota // holds when the run ends
	Always                       // holds at every step of its window
	NeverHolds                   // holds at no step of its window
	Once                         // becomes true exactly once in its window
	At                           // holds at Time
	By                           // becomes true at Time or before
	Within                       // becomes true within Time after After first held
)

// Expect is one expectation. After and Until bound its window: from the first
// tick at which After holds to the first tick from there at which Until holds.
type Expect struct {
	Line         int
	Name         string
	Form         ExpectForm
	That         Cond
	Time         vtime.Tick
	After, Until *Cond
}
