package plan

import (
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Entry is one entry of the timeline: Actions happen at At, or when When
// becomes true for the first time after the entries before it.
type Entry struct {
	Line    int        // in the scenario file
	At      vtime.Tick // vtime.Never if When is used
	When    *Cond      // nil if At is used
	Actions []Action
	Unit    int // to which unit it happens
	Note    string
	Devices []Range // of a fleet to which it happens; nil: all
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
	ActReset                               // somebody takes the card back to the factory's state; Order: how far
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
