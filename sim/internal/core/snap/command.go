package snap

import (
	"ridethrough/sim/internal/core/vtime"
)

// Source is one card's window onto the simulation: what a surface reads and
// asks. All methods are safe for concurrent use.
type Source interface {
	// Device is the latest published state. It never blocks and never changes
	// after it was returned.
	Device() *Device
	// Now is the present simulated time, never before Device().Tick: use it for
	// what counts up or down between two published states.
	Now() vtime.Tick
	// Submit puts c to the engine and waits for its answer. It is refused with
	// Busy when the bounded inbox is full, and with Gone after the simulation
	// has ended.
	Submit(c Command) Result
}

// Actor says who asked, for the journal and the audit.
type Actor struct {
	Surface string `json:"surface"` // "snmp", "serial", "ssh", "bench", "process"
	User    string `json:"user,omitempty"`
	Peer    string `json:"peer,omitempty"`    // remote address as text
	Role    Role   `json:"role,omitempty"`    // of who signed in
	Session uint32 `json:"session,omitempty"` // see [Session]; 0: no sign-in of the card's
}

// longestUser is how much of a user name the audit has, in octets: an account has up to
// 32, and what somebody tries over SSH may have thousands.
const longestUser = 64

// plainUser is a user name that makes no lines of its own where it is written: in
// messages, in a collector's file.
func plainUser(user string) string {
	end := ""
	if len(user) > longestUser {
		user, end = user[:longestUser], "..."
	}
	return Printable(user) + end
}

// Who names somebody for the audit: user, role, surface and peer.
func (a Actor) Who() string {
	a.User = plainUser(a.User)
	where := a.Surface
	if a.Peer != "" {
		where += " from " + a.Peer
	}
	switch {
	case a.User == "":
		return where
	case a.Role != NoRole:
		return a.User + ", " + a.Role.String() + " (" + where + ")"
	}
	return a.User + " (" + where + ")"
}

// Op names what a command does.
type Op string

// Commands. Which other fields of Command an op uses stands beside it.
const (
	OpSet       Op = "set"        // Sets: all or nothing
	OpSave      Op = "save"       // Settings, Revision: replace what the card's memory holds
	OpClock     Op = "clock"      // At: set the card's clock
	OpTimeReal  Op = "time-real"  // Time.Server: a real time server is asked in its place from now on
	OpTime      Op = "time"       // Time: what came of asking it
	OpRestart   Op = "restart"    // restart the card
	OpReset     Op = "reset"      // Text: the card back to the factory's state, as far as that level goes, and restart it
	OpSwitch    Op = "switch"     // Group, Text: switch an outlet group "off", "on", or "cycle" it
	OpSignIn    Op = "sign-in"    // OK, By, Text: a login was tried, and what it was checked against says OK; answered with a session or why not
	OpSignOut   Op = "sign-out"   // By, Text: the session ended, for the reason in Text
	OpNotIt     Op = "not-it"     // By: what was typed as the present password, to change it, is another one
	OpAccount   Op = "account"    // Text, Account: change the card's accounts, see [AccountAdd]
	OpAuthFail  Op = "auth-fail"  // By: an SNMP request with a wrong community, or Code: what is wrong with one of SNMPv3, a [USMFault]
	OpPing      Op = "ping"       // Text: an address or the name of a peer; the answer's reason tells what came of it
	OpAck       Op = "ack"        // Notify, OK, By, Text: an inform was acknowledged, or given up for the reason in Text
	OpInject    Op = "inject"     // Text: a timeline entry as TOML, from the bench
	OpMark      Op = "mark"       // Text: the bench did that to the clock; the run has an instant there
	OpWatch     Op = "watch"      // Text: a condition; the run has an instant wherever it changes, from now on
	OpUnwatch   Op = "unwatch"    // Text: a condition that OpWatch named; no longer
	OpQuirk     Op = "quirk"      // Text, Code: the quirk of that name acted so many times more
	OpPosted    Op = "posted"     // Post, Code, Text: the attempt came to that [Outcome], for the reason in Text
	OpOutside   Op = "outside"    // Text: the server at that host:port is a real one
	OpLost      Op = "lost"       // Text, Code: so many more packets of a surface were lost on the card's link: "in", "out", or in a burst "burst-in", "burst-out"
	OpShown     Op = "shown"      // Text, At: the server of that [Showing] has shown a certificate that expires then
	OpTry       Op = "try"        // Text: a test message to that recipient, syslog server or receiver, or to all
	OpHostKey   Op = "host-key"   // Text: fingerprint of the host key that the SSH server has now
	OpTurnAway  Op = "turn-away"  // Text, By.Peer, Code: so many requests from that address for that service, which the access list does not allow
	OpArrive    Op = "arrive"     // Host, OK, Arrival, Text: a message came to that sink, or was turned away for the reason in Text; answered with what the sender is told
	OpProcEnded Op = "proc-ended" // Host, Run, Code: its real process ended by itself
)

// Command is one request to the engine. It is journaled as JSON, so it never
// carries a password.
type Command struct {
	Op       Op           `json:"op"`
	Unit     int          `json:"unit,omitempty"` // which of the site's units it goes to, from 0
	By       Actor        `json:"by"`
	Sets     []Assignment `json:"sets,omitempty"`
	Settings *Settings    `json:"settings,omitempty"`
	Revision uint64       `json:"revision,omitempty"` // of the settings that Settings were made from; 0: whatever they are
	Host     string       `json:"host,omitempty"`
	Group    string       `json:"group,omitempty"`
	Code     int          `json:"code,omitempty"`
	Run      int          `json:"run,omitempty"` // which run of Host it was; see Effect
	OK       bool         `json:"ok,omitempty"`
	Text     string       `json:"text,omitempty"`
	Notify   NotifyKind   `json:"notify,omitempty"`
	At       Stamp        `json:"at,omitempty"`
	Account  *Account     `json:"account,omitempty"` // its salt and verifier are hidden in journals
	Post     uint32       `json:"post,omitempty"`
	Time     *TimeReply   `json:"time,omitempty"`
	Lease    *LeaseReply  `json:"lease,omitempty"`
	Release  *Release     `json:"release,omitempty"`
	Arrival  *Arrival     `json:"arrival,omitempty"`
}

// Var names a writable card variable. The names are those of the standard's
// objects.
type Var string

// Writable variables. Int carries the value in the object's own unit (for
// example tenths of a hertz), Text the strings; upsTestId carries a TestKind in
// Int, or 0 for an identity that is not a well-known test.
const (
	VarSysContact      Var = "sysContact"
	VarSysName         Var = "sysName"
	VarSysLocation     Var = "sysLocation"
	VarAuthenTraps     Var = "snmpEnableAuthenTraps"
	VarIdentName       Var = "upsIdentName"
	VarAttachedDevices Var = "upsIdentAttachedDevices"
	VarTestID          Var = "upsTestId"
	VarTestSpinLock    Var = "upsTestSpinLock"
	VarShutdownType    Var = "upsShutdownType"
	VarShutdownAfter   Var = "upsShutdownAfterDelay"
	VarStartupAfter    Var = "upsStartupAfterDelay"
	VarReboot          Var = "upsRebootWithDuration"
	VarAutoRestart     Var = "upsAutoRestart"
	VarInputVoltage    Var = "upsConfigInputVoltage"
	VarInputFreq       Var = "upsConfigInputFreq"
	VarOutputVoltage   Var = "upsConfigOutputVoltage"
	VarOutputFreq      Var = "upsConfigOutputFreq"
	VarLowBattTime     Var = "upsConfigLowBattTime"
	VarAudible         Var = "upsConfigAudibleStatus"
	VarLowTransfer     Var = "upsConfigLowVoltageTransferPoint"
	VarHighTransfer    Var = "upsConfigHighVoltageTransferPoint"
	VarSnmpSetSerialNo Var = "snmpSetSerialNo"
	VarGroupOrder      Var = "rtGroupOrder" // Row says of which group, Int is a GroupOrder
)

// Assignment is one variable and its new value.
type Assignment struct {
	Var  Var    `json:"var"`
	Row  int    `json:"row,omitempty"` // of a table, from 1
	Int  int64  `json:"int,omitempty"`
	Text string `json:"text,omitempty"`
}

// Status says how a command fared. The names of the refusals follow SNMP's
// error codes, so that the agent can map them one to one.
type Status uint8

// Statuses.
const (
	Done         Status = iota
	Inconsistent        // inconsistentValue (v1: badValue): not now, or not with the rest
	WrongValue          // wrongValue (v1: badValue): never possible here
	Busy                // resourceUnavailable (v1: genErr)
	Gone                // the simulation has ended
	Denied              // authorizationError (v1: genErr): not for who asks
)

// Result answers a command. Index is the position in Sets (0-based) of the
// first assignment refused; Reason is one line for a person.
type Result struct {
	Status Status
	Index  int
	Reason string
	// Session is the one that a sign-in began, Role what it may do.
	Session uint32
	Role    Role
	// Amiss: it was done, and what was to be found out is not as it should be.
	Amiss bool
}
