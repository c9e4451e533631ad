package snap

import (
	"fmt"
	"strings"
)

// AlertClass is what an event of the card is about: rules choose by it.
type AlertClass uint8

// Classes.
const (
	ClassPower        AlertClass = iota // what comes in
	ClassBattery                        // the battery and its charger
	ClassOutput                         // what goes out, and orders to switch it off
	ClassUnit                           // the unit itself
	ClassTest                           // tests of the battery
	ClassSurroundings                   // probes and contacts
	ClassOutlets                        // outlet groups and their schedule
	ClassCard                           // the card itself
	ClassNetwork                        // its network, and what it could not deliver
	ClassSecurity                       // who tried to get in

	// AlertClasses is how many there are.
	AlertClasses
)

var classNames = []string{"power", "battery", "output", "unit", "test", "surroundings", "outlets", "card", "network", "security"}

// String is the word for c, which rules use.
func (c AlertClass) String() string { return nameOf(classNames, int(c)) }

// AlertSet is a set of classes, a bit for each.
type AlertSet uint16

// EveryClass holds them all.
const EveryClass AlertSet = 1<<AlertClasses - 1

// Has says whether c is in the set.
func (s AlertSet) Has(c AlertClass) bool { return s&(1<<c) != 0 }

// String is the words of the set with commas, "all" for all of them.
func (s AlertSet) String() string {
	if s == EveryClass {
		return "all"
	}
	var words []string
	for c := range AlertClasses {
		if s.Has(c) {
			words = append(words, c.String())
		}
	}
	return strings.Join(words, ",")
}

// AlertSetOf reads words with commas between them, or all. wrong is the first that
// is no class.
func AlertSetOf(text string) (s AlertSet, wrong string) {
	if strings.TrimSpace(text) == "all" {
		return EveryClass, ""
	}
	for word := range strings.SplitSeq(text, ",") {
		word = strings.TrimSpace(word)
		c := AlertClass(0)
		for c < AlertClasses && c.String() != word {
			c++
		}
		if c == AlertClasses {
			return 0, word
		}
		s |= 1 << c
	}
	return s, ""
}

// AlertClassWords are the words of all classes.
func AlertClassWords() []string { return append([]string(nil), classNames...) }

// Severity is how much an event matters. A greater one matters more.
type Severity string

// Severities.
const (
	Info     Severity = "info"     // worth a line in a log
	Warning  Severity = "warning"  // somebody should look within the working day
	Critical Severity = "critical" // somebody has to act now
)

// Severities are all of them, the least first.
func Severities() []Severity { return []Severity{Info, Warning, Critical} }

// AtLeast says whether s matters as much as least.
func (s Severity) AtLeast(least Severity) bool { return s.rank() >= least.rank() }

func (s Severity) rank() int {
	switch s {
	case Critical:
		return 2
	case Warning:
		return 1
	}
	return 0
}

// Syslog is the severity of RFC 5424 table 2 that stands for s: critical 2,
// warning 4, informational 6.
func (s Severity) Syslog() int { return [...]int{6, 4, 2}[s.rank()] }

// AlertEvent is something that the card may tell people. The first are the alarms
// of RFC 1628 under their own numbers.
type AlertEvent uint8

// Events besides the alarms.
const (
	EventStepped       = AlertEvent(AlarmKinds) + iota // the unit steps the voltage up or down
	EventTestEnded                                     // a test has ended
	EventGroup                                         // an outlet group was switched
	EventProbe                                         // a probe passed a limit
	EventProbeUrgent                                   // a critical one
	EventProbeLost                                     // its cable is out
	EventContact                                       // a contact reports what it watches
	EventContactFault                                  // its loop is cut, or its probe lost
	EventStarted                                       // the card has started
	EventRestart                                       // somebody restarts it
	EventReset                                         // somebody resets it
	EventSaved                                         // settings were saved
	EventLinkDown                                      // the network lead is out
	EventUndelivered                                   // a message was given up
	EventSignIn                                        // somebody signed in
	EventRefused                                       // somebody was refused
	EventCommunity                                     // an SNMP request with a wrong community
	EventSchedule                                      // the schedule will switch
	EventTry                                           // a test message
	EventContactInfo                                   // as EventContact, of a contact of severity info
	EventContactUrgent                                 // likewise critical
	EventEmergency                                     // somebody signed in past the servers that know users
	EventAccount                                       // accounts were changed
	EventExpiry                                        // a certificate or the battery has nearly served its time
	EventActed                                         // somebody gave an order or set something that is no setting
	EventAddress                                       // the card has another address than before
	EventFirmware                                      // firmware was loaded, refused, started or taken back
	EventHostKey                                       // the SSH server has another host key

	// AlertEvents is their number plus one: a size for arrays.
	AlertEvents
)

// AlertKind is what the table says of an event.
type AlertKind struct {
	Name     string
	Class    AlertClass
	Severity Severity
	Begins   string // what people read when it begins or happens
	Ends     string // when it is over; empty: it has no end
}

// Alert is the row of e.
func (e AlertEvent) Alert() *AlertKind { return &alertKinds[e] }

// String is the name of e.
func (e AlertEvent) String() string {
	if e == 0 || e >= AlertEvents {
		return "unknown"
	}
	return alertKinds[e].Name
}

// MarshalText is the name of e.
func (e AlertEvent) MarshalText() ([]byte, error) { return []byte(e.String()), nil }

// UnmarshalText reads a name.
func (e *AlertEvent) UnmarshalText(text []byte) error {
	for i := AlertEvent(1); i < AlertEvents; i++ {
		if alertKinds[i].Name == string(text) {
			*e = i
			return nil
		}
	}
	return fmt.Errorf("there is no event %q", text)
}

// alertKinds gives each event its class and severity. They are ours: neither RFC
// 1628 nor another standard ranks the alarms.
var alertKinds = [AlertEvents]AlertKind{
	AlertEvent(AlarmBatteryBad):           {"battery_bad", ClassBattery, Critical, "battery needs replacing", "battery is good again"},
	AlertEvent(AlarmOnBattery):            {"on_battery", ClassPower, Critical, "the load runs on battery", "the load is off the battery"},
	AlertEvent(AlarmLowBattery):           {"low_battery", ClassBattery, Critical, "battery is low", "battery is no longer low"},
	AlertEvent(AlarmDepletedBattery):      {"depleted_battery", ClassBattery, Critical, "battery could not carry the load if mains failed", "battery could carry the load again"},
	AlertEvent(AlarmTempBad):              {"temp_bad", ClassUnit, Critical, "temperature is out of tolerance", "temperature is within tolerance again"},
	AlertEvent(AlarmInputBad):             {"input_bad", ClassPower, Warning, "input is out of tolerance", "input is within tolerance again"},
	AlertEvent(AlarmOutputBad):            {"output_bad", ClassOutput, Critical, "output is out of tolerance", "output is within tolerance again"},
	AlertEvent(AlarmOutputOverload):       {"output_overload", ClassOutput, Critical, "load is above the rating", "load is within the rating again"},
	AlertEvent(AlarmOnBypass):             {"on_bypass", ClassOutput, Warning, "the load is on the bypass, without protection", "the load is off the bypass"},
	AlertEvent(AlarmBypassBad):            {"bypass_bad", ClassOutput, Warning, "bypass is out of tolerance", "bypass is within tolerance again"},
	AlertEvent(AlarmOutputOffAsRequested): {"output_off_as_requested", ClassOutput, Warning, "output was switched off by order", "the order to switch the output off is over"},
	AlertEvent(AlarmUPSOffAsRequested):    {"ups_off_as_requested", ClassOutput, Warning, "the unit was switched off by order", "the order to switch the unit off is over"},
	AlertEvent(AlarmChargerFailed):        {"charger_failed", ClassBattery, Critical, "charger has failed", "charger works again"},
	AlertEvent(AlarmUPSOutputOff):         {"ups_output_off", ClassOutput, Critical, "output is off", "output is on"},
	AlertEvent(AlarmUPSSystemOff):         {"ups_system_off", ClassOutput, Critical, "the unit is off", "the unit is on"},
	AlertEvent(AlarmFanFailure):           {"fan_failure", ClassUnit, Warning, "a fan has failed", "fans work again"},
	AlertEvent(AlarmFuseFailure):          {"fuse_failure", ClassUnit, Critical, "a fuse has failed", "fuses are good again"},
	AlertEvent(AlarmGeneralFault):         {"general_fault", ClassUnit, Critical, "the unit reports a general fault", "the general fault is gone"},
	AlertEvent(AlarmDiagnosticTestFailed): {"diagnostic_test_failed", ClassBattery, Critical, "the last test has failed", "a test has passed again"},
	AlertEvent(AlarmCommunicationsLost):   {"communications_lost", ClassUnit, Critical, "the card does not reach its unit", "the card reaches its unit again"},
	AlertEvent(AlarmAwaitingPower):        {"awaiting_power", ClassPower, Info, "the unit waits for its input", "the unit waits no longer"},
	AlertEvent(AlarmShutdownPending):      {"shutdown_pending", ClassOutput, Critical, "a shutdown is ordered", "the shutdown is no longer pending"},
	AlertEvent(AlarmShutdownImminent):     {"shutdown_imminent", ClassOutput, Critical, "the output is about to go off", "the output is no longer about to go off"},
	AlertEvent(AlarmTestInProgress):       {"test_in_progress", ClassTest, Info, "a test runs", "the test is over"},

	EventStepped:       {"voltage_stepped", ClassPower, Info, "the unit steps the voltage up or down", "the input feeds the output as it is"},
	EventTestEnded:     {"test_ended", ClassTest, Info, "a test has ended", ""},
	EventGroup:         {"group_off", ClassOutlets, Warning, "an outlet group is off", "an outlet group is on"},
	EventProbe:         {"probe_warning", ClassSurroundings, Warning, "a probe has passed a limit", "a probe is within its limits again"},
	EventProbeUrgent:   {"probe_critical", ClassSurroundings, Critical, "a probe has passed a critical limit", "a probe is within its critical limits again"},
	EventProbeLost:     {"probe_lost", ClassSurroundings, Warning, "a probe is lost", "a probe is back"},
	EventContact:       {"contact_active", ClassSurroundings, Warning, "a contact is active", "a contact is normal again"},
	EventContactInfo:   {"contact_info", ClassSurroundings, Info, "a contact is active", "a contact is normal again"},
	EventContactUrgent: {"contact_critical", ClassSurroundings, Critical, "a contact is active", "a contact is normal again"},
	EventContactFault:  {"contact_fault", ClassSurroundings, Warning, "a contact is out of order", "a contact is in order again"},
	EventStarted:       {"card_started", ClassCard, Info, "the card has started", ""},
	EventRestart:       {"card_restart", ClassCard, Info, "the card was told to restart", ""},
	EventReset:         {"card_reset", ClassCard, Warning, "the card was reset", ""},
	EventSaved:         {"settings_saved", ClassCard, Info, "settings were saved", ""},
	EventLinkDown:      {"link_down", ClassNetwork, Warning, "the network link was down", "the network link is up"},
	EventUndelivered:   {"undelivered", ClassNetwork, Warning, "a message was given up", ""},
	EventSignIn:        {"sign_in", ClassSecurity, Info, "somebody signed in", ""},
	EventEmergency:     {"sign_in_emergency", ClassSecurity, Critical, "no sign-in server answered and an own account was used", ""},
	EventAccount:       {"account_changed", ClassSecurity, Warning, "accounts were changed", ""},
	EventRefused:       {"sign_in_refused", ClassSecurity, Warning, "a sign-in was refused", ""},
	EventCommunity:     {"snmp_refused", ClassSecurity, Warning, "an SNMP request with a wrong community", ""},
	EventSchedule:      {"schedule_due", ClassOutlets, Warning, "the schedule is about to switch outlets off", ""},
	EventExpiry:        {"expiry_near", ClassCard, Warning, "something has nearly served its time, or is past it", ""},
	EventActed:         {"acted", ClassSecurity, Info, "somebody gave an order", ""},
	EventAddress:       {"address_changed", ClassNetwork, Warning, "the card has another address", ""},
	EventFirmware:      {"firmware_changed", ClassCard, Warning, "something became of the firmware", ""},
	EventHostKey:       {"host_key_changed", ClassSecurity, Warning, "the SSH server has another host key", ""},
	EventTry:           {"test_message", ClassTest, Info, "this is a test message that somebody asked for", ""},
}
