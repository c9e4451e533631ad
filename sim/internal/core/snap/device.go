package snap

import (
	"net/netip"
	"reflect"
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// OutputSource says what feeds the output (RFC 1628 upsOutputSource; the
// numbers are the standard's).
type OutputSource uint8

// Output sources.
const (
	SourceOther   OutputSource = 1
	SourceNone    OutputSource = 2
	SourceNormal  OutputSource = 3
	SourceBypass  OutputSource = 4
	SourceBattery OutputSource = 5
	SourceBooster OutputSource = 6
	SourceReducer OutputSource = 7
)

// String is the standard's word for s.
func (s OutputSource) String() string {
	return nameOf([]string{"", "other", "none", "normal", "bypass", "battery", "booster", "reducer"}, int(s))
}

// BatteryStatus is RFC 1628 upsBatteryStatus; the numbers are the standard's.
type BatteryStatus uint8

// Battery states.
const (
	BatteryUnknown  BatteryStatus = 1
	BatteryNormal   BatteryStatus = 2
	BatteryLow      BatteryStatus = 3
	BatteryDepleted BatteryStatus = 4
)

// String is the standard's word without its prefix.
func (b BatteryStatus) String() string {
	return nameOf([]string{"", "unknown", "normal", "low", "depleted"}, int(b))
}

// TestKind is a well-known test of RFC 1628; the numbers are the last arc of
// its identity under upsWellKnownTests.
type TestKind uint8

// Tests.
const (
	TestNone            TestKind = 1 // no test since the agent started
	TestAbort           TestKind = 2 // the order to abort the running test
	TestGeneralSystems  TestKind = 3
	TestQuickBattery    TestKind = 4
	TestDeepCalibration TestKind = 5
)

// String is a word for k.
func (k TestKind) String() string {
	return nameOf([]string{"", "none", "abort", "general-systems", "quick-battery", "deep-calibration"}, int(k))
}

// TestResult is RFC 1628 upsTestResultsSummary; the numbers are the standard's.
type TestResult uint8

// Test results.
const (
	ResultPass       TestResult = 1
	ResultWarning    TestResult = 2
	ResultError      TestResult = 3
	ResultAborted    TestResult = 4
	ResultInProgress TestResult = 5
	ResultNone       TestResult = 6
)

// String is a word for r.
func (r TestResult) String() string {
	return nameOf([]string{"", "pass", "warning", "error", "aborted", "in-progress", "none"}, int(r))
}

// Audible is RFC 1628 upsConfigAudibleStatus; the numbers are the standard's.
type Audible uint8

// Audible alarm settings.
const (
	AudibleDisabled Audible = 1
	AudibleEnabled  Audible = 2
	AudibleMuted    Audible = 3
)

// Device is one UPS with its card as the card can know them at one tick. It is
// a plain value: copy it freely, never change one that was published.
type Device struct {
	Tick vtime.Tick // when this was true

	Card    Card
	UPS     UPS
	Battery Battery

	// Input, Output and Bypass hold one line each for a single-phase unit; the
	// first Count entries of Lines are meaningful.
	Input, Output, Bypass Lines

	Outlets  Outlets
	Energy   *Energy // by the meters of the outlets; never changed in place. Nil: there are none
	Probes   Probes
	Contacts Contacts
	Alarms   Alarms
	Test     Test
	Control  Control
	Config   Config
}

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
	// number of lines out of it went from none to one or more.
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

// AddressMode says how the card comes to its address.
type AddressMode string

// Address modes.
const (
	AddressDHCP  AddressMode = "dhcp"
	AddressFixed AddressMode = "fixed"
)

// Settings are what a technician can change and the card keeps.
type Settings struct {
	// Name, Location and Contact serve sysName, sysLocation and sysContact;
	// UPSName and Attached serve upsIdentName and upsIdentAttachedDevices.
	Name, Location, Contact string
	UPSName, Attached       string

	Mode    AddressMode
	Fixed   netip.Prefix // address and mask, used in fixed mode
	Gateway netip.Addr   // may be invalid: none

	// Zone is the rule of the card's time zone; see [vtime.Zone]. Empty: UTC.
	Zone string
	Time TimeSettings
	// Schedule is what the card switches by that clock.
	Schedule Schedule

	// An empty community switches that access off.
	ReadCommunity, WriteCommunity Secret

	Conformance Conformance      // how much of RFC 1628 the agent has
	SignIn      *SignInRules     // see [Settings.SignInRules]; never nil in a clone
	Links       *LinkSettings    `json:",omitempty"` // nil: as a new card has them
	Managers    *ManagerSettings `json:",omitempty"` // nil: as a new card has them

	// Groups are the outlet groups of the unit: neither more nor fewer than it has.
	// The slice that is in force is never changed in place.
	Groups  []OutletGroup
	Restart RestartGate
	Alerts  *AlertSettings `json:",omitempty"` // nil: those of [FactoryAlerts]

	// Upkeep is that of [Settings.Upkept]; nil: as the factory has it.
	Upkeep       *Upkeep        `json:",omitempty"`
	Surroundings Surroundings   `json:",omitzero"`
	Relays       []RelaySetting `json:",omitempty"`
}

// Clone is a copy that shares nothing with s, so that it may be changed.
func (s *Settings) Clone() *Settings {
	c := *s
	c.SignIn = s.SignInRules().clone()
	c.Links = s.Links.clone()
	c.Groups = slices.Clone(s.Groups)
	if s.Alerts != nil {
		c.Alerts = s.Alerts.Clone()
	}
	c.Time, c.Schedule = s.Time.clone(), s.Schedule.clone()
	if s.Upkeep != nil {
		u := *s.Upkeep
		c.Upkeep = &u
	}
	c.Managers = s.Managers.clone()
	c.Surroundings, c.Relays = s.Surroundings.clone(), slices.Clone(s.Relays)
	return &c
}

// Same says whether both settle the same. A secret and what stands in its place
// under the same text are the same.
func (s *Settings) Same(t *Settings) bool { return reflect.DeepEqual(plainly(s), plainly(t)) }

// plainly is a copy without the marks of what stands in for secrets.
func plainly(s *Settings) *Settings {
	c := s.Clone()
	c.Alerts = s.Alerts.Clone()
	eachSecret(reflect.ValueOf(c).Elem(), func(x *Secret) { x.standIn = false })
	return c
}

func eachSecret(v reflect.Value, do func(*Secret)) {
	if x, ok := v.Addr().Interface().(*Secret); ok {
		do(x)
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				eachSecret(v.Field(i), do)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			eachSecret(v.Index(i), do)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			eachSecret(v.Elem(), do)
		}
	}
}

// Address is the card's network address at present.
type Address struct {
	// State is "searching" (asking for a lease, nothing yet), "leased", "last-lease"
	// (one from before a restart that nobody has confirmed), "link-local", "fixed",
	// "duplicate" (another machine has it) or "no-link" (the port has no link).
	State   string
	Prefix  netip.Prefix
	Gateway netip.Addr
	DNS     [2]netip.Addr
	Lease   Lease // of a leased one

	V6State   string // "off", "searching", "auto", "fixed" or "duplicate"
	V6        netip.Prefix
	V6Gateway netip.Addr
}

// Lease says how long an address may be used: from when on the card asks for more
// of the server that gave it, of any server, and when it is over (RFC 2131 section
// 4.4.5). Overdue counts requests that nobody answered.
type Lease struct {
	Server               netip.Addr
	Renew, Rebind, Until vtime.Tick
	Overdue              int
}

// AddressDuplicate is the state of a card whose address another machine has.
const AddressDuplicate = "duplicate"

// Reachable says whether the card has an address, so that its network surfaces
// can be spoken to.
func (a Address) Reachable() bool { return a.Prefix.IsValid() || a.V6.IsValid() }

// Speaks says whether the card has an address of the family of to, which need not
// be valid.
func (a Address) Speaks(to netip.Addr) bool {
	switch {
	case !to.IsValid():
		return false
	case to.Unmap().Is4():
		return a.Prefix.IsValid()
	}
	return a.V6.IsValid()
}

func nameOf(names []string, i int) string {
	if i < 0 || i >= len(names) || names[i] == "" {
		return "unknown"
	}
	return names[i]
}
