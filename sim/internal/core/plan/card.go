package plan

import (
	"net/netip"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

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
	UnitTakes vtime.Tick // how long it tries speeds, from its first answer to its first contact with the unit
	UnitSpeed int        // that the unit speaks at, in bits per second
	NoDetect  bool       // it does not find that by itself
	Waits     bool       // while it waits for a name to be found it does nothing else
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
	Set      snap.Stamp // when the password was set; 0: nobody knows
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
