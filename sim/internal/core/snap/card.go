package snap

import (
	"ridethrough/sim/internal/core/vtime"
)

// CardState is where the card is in its life.
type CardState uint8

// Card states.
const (
	CardOff     CardState = iota // no power
	CardBooting                  // powered, nothing answers yet
	CardRunning                  // surfaces answer
	CardAbsent                   // not in its slot
	CardHung                     // powered and stuck: nothing answers
)

// String is a word for s.
func (s CardState) String() string {
	return nameOf([]string{"off", "booting", "running", "absent", "hung"}, int(s))
}

// Card is the network card.
type Card struct {
	State     CardState
	StartedAt vtime.Tick // when its agent last started: the zero of sysUpTime
	BootAt    vtime.Tick // when it began to boot last
	RunningAt vtime.Tick // while booting: when it will answer
	Boots     uint32     // starts of the agent so far

	Clock Clock
	Time  *TimeState // nil: it asks nobody
	// Schedule is nil while there is no entry.
	Schedule *ScheduleState
	// UnitLost says that the card runs without contact to the unit's controller,
	// UnitSince when that last changed. What the card shows of the unit is then as
	// old as that.
	UnitLost  bool
	UnitBlank bool // it shows nothing of the unit meanwhile
	UnitSince vtime.Tick

	Identity Identity
	Firmware *Firmware // nil: that of [FirstFirmware]
	Upload   *Upload   // an image on its way; nil: none
	ImageKey string    // public key (ed25519) of whoever makes the card's firmware
	Settings Settings  // in force
	Saved    Settings  // in memory, in force after the next restart
	Revision uint64    // of Saved: rises with every change
	Address  Address   // what the network part came to
	// LinkDown says that the port has no link, LinkSince when that last changed.
	LinkDown  bool
	LinkSince vtime.Tick
	Port      *Port   // nil: the one that [Card.PortNow] has
	Access    *Access // to SNMP, apart from the communities; nil: that of [DefaultAccess]
	Quirks    *Quirks // nil: the card keeps to the standards
	Accounts  []Account
	Factory   *Account  // the login on the label, as it came; nil: it has no surface to sign in at
	Sessions  []Session // who is signed in, oldest first; never changed in place
	Lockouts  []Lockout // likewise
	// AuthenTraps is snmpEnableAuthenTraps; SetSerialNo is snmpSetSerialNo
	// (RFC 3418), a TestAndIncr.
	AuthenTraps bool
	SetSerialNo int32
	USM         *USMStats   // what it refused to modelled managers; nil: nothing
	Posts       *PostOffice // its messages; nil: none yet
	Relays      *Relays     // nil: none was ever set
	// Journal holds both journals, newest last, and a little more than they keep:
	// see [Card.Entries]. Lost counts what went before. It is never changed in place.
	Journal []JournalEntry
	Lost    [JournalKinds]uint32
	Data    *DataLog // nil: nothing was logged yet
	Terms   []Term   // what it knows to have an end; never changed in place
	HostKey *HostKey // of its SSH server; nil: it is the one that it came with, and nobody serves
}

// HostKey is what the card knows of the host key of its SSH server. It never changes
// in place.
type HostKey struct {
	Print   string // its fingerprint, as OpenSSH writes it; "": nobody serves
	Changes uint32 // how often it was made anew since the session began
}

// Made is how often the host key was made anew.
func (c *Card) Made() uint32 {
	if c.HostKey == nil {
		return 0
	}
	return c.HostKey.Changes
}

// Identity is what the factory gave the card.
type Identity struct {
	SerialNumber string
	Model        string
	Firmware     string // version that runs
	Hardware     string // hardware (MAC) address as text
	First        string // version of the firmware that it came with; "": the one that runs
}
