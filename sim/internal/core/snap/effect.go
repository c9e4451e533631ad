package snap

// NotifyKind names a notification that a card issues.
type NotifyKind uint8

// Notifications: the four of RFC 1628 with its numbers, then those of RFC 3418,
// of RFC 2863, and of our own module.
const (
	NotifyOnBattery     NotifyKind = 1
	NotifyTestCompleted NotifyKind = 2
	NotifyAlarmAdded    NotifyKind = 3
	NotifyAlarmRemoved  NotifyKind = 4
	NotifyColdStart     NotifyKind = 5
	NotifyWarmStart     NotifyKind = 6
	NotifyAuthFailure   NotifyKind = 7

	NotifyLinkDown      NotifyKind = 8
	NotifyLinkUp        NotifyKind = 9
	NotifyGroupSwitched NotifyKind = 10
	NotifyProbeAlert    NotifyKind = 11 // a probe is worse than before
	NotifyProbeBetter   NotifyKind = 12
	NotifyContact       NotifyKind = 13 // a contact changed its state
	NotifyTry           NotifyKind = 14 // a test message that somebody asked for
	NotifyRisen         NotifyKind = 15 // a warning is critical because it has lasted

	// NotifyKinds is the number of kinds plus one: a size for arrays by kind.
	NotifyKinds = 16
)

var notifyNames = []string{
	"", "on_battery", "test_completed", "alarm_added", "alarm_removed",
	"cold_start", "warm_start", "auth_failure",
	"link_down", "link_up", "group_switched", "probe_alert", "probe_better", "contact_changed", "test_message", "warning_lasts",
}

// String is a word for k; scenarios use it as sent.<name>.
func (k NotifyKind) String() string { return nameOf(notifyNames, int(k)) }

// OID is the identity that k has on the wire (snmpTrapOID), in the dotted form.
func (k NotifyKind) OID() string { return nameOf(notifyOIDs, int(k)) }

// The identities of RFC 1628, of RFC 3418 and RFC 2863, and of our own module under
// the enterprise number that RFC 5612 reserves for documentation.
var notifyOIDs = []string{
	"", "1.3.6.1.2.1.33.2.1", "1.3.6.1.2.1.33.2.2", "1.3.6.1.2.1.33.2.3", "1.3.6.1.2.1.33.2.4",
	"1.3.6.1.6.3.1.1.5.1", "1.3.6.1.6.3.1.1.5.2", "1.3.6.1.6.3.1.1.5.5", "1.3.6.1.6.3.1.1.5.3", "1.3.6.1.6.3.1.1.5.4",
	"1.3.6.1.4.1.32473.1.0.1", "1.3.6.1.4.1.32473.1.0.2", "1.3.6.1.4.1.32473.1.0.3", "1.3.6.1.4.1.32473.1.0.4", "1.3.6.1.4.1.32473.1.0.5", "1.3.6.1.4.1.32473.1.0.6",
}

// NotifyByOID is the kind with that identity, 0 if there is none.
func NotifyByOID(oid string) NotifyKind {
	for k := NotifyKind(1); k < NotifyKinds; k++ {
		if notifyOIDs[k] == oid {
			return k
		}
	}
	return 0
}

// Notification is one notification to every receiver, or to one.
type Notification struct {
	Kind NotifyKind
	// Astray has a bit for each receiver, as the card's settings count them from 0, to
	// which it is lost on the card's link; an inform the first time that it is sent.
	Astray uint8
	// Barred has a bit for each receiver, likewise, to which nothing leaves: the card
	// does not have the address that it is to leave from.
	Barred uint8
	// AlarmID and Alarm name the row for NotifyAlarmAdded and
	// NotifyAlarmRemoved; a removed row is no longer in the table.
	AlarmID int32
	Alarm   AlarmKind
	// Row is the outlet group, probe or contact, counted from 1, that a notification
	// of our own module is about; Live whether the outlets of that group are live.
	Row     uint8
	Live    bool
	Contact ContactState
	// Cause is what of a probe a notification is about.
	Cause ProbeCause
	// Event is the warning that NotifyRisen is about: an alarm by Alarm and AlarmID, of
	// groups, probes and contacts the one in Row.
	Event AlertEvent
	// Matters is how much a notification about a probe or a contact matters: as much as
	// what begins or what ends with it, whichever matters more; of the others critical if it is the end of a warning that has
	// become that, 0 otherwise: as much as its event.
	Matters Rank
	// To is the receiver, counted from 1 in the card's settings, that alone gets it;
	// 0: all do.
	To uint8
}

// There is a bit for each receiver.
const _ = uint(8 - MaxReceivers)

// Lost says whether it is lost on the card's link on its way to that receiver, counted
// from 0.
func (n *Notification) Lost(receiver int) bool { return n.Astray>>receiver&1 == 1 }

// Held says whether it does not leave for that receiver, counted from 0.
func (n *Notification) Held(receiver int) bool { return n.Barred>>receiver&1 == 1 }

// EffectKind says what the world outside the engine has to do.
type EffectKind uint8

// Effects.
const (
	EffectNotify EffectKind = iota // send Notification to the receivers
	EffectSpawn                    // start the real process of Host
	EffectKill                     // kill the real process of Host at once
	EffectKeep                     // put Keep into the card's memory
	EffectPost                     // bring Post to its server, and answer with OpPosted
	EffectTime                     // ask the time server in Time
	EffectLease                    // send Lease to address servers
)

// Effect is one thing for the world outside to do. The engine never waits for it.
type Effect struct {
	Kind         EffectKind
	Unit         int // which of the site's units asks for it, from 0
	Notification Notification
	Host         string
	Run          int // which run of the host's program it is: its starts so far
	Keep         *Keep
	Post         *Post
	Time         *TimeQuery
	Lease        *LeaseQuery
}
