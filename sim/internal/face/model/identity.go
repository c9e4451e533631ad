package model

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// Identity is something that RFC 1628 gives an object identifier to point at.
type Identity struct {
	Name  string // the standard's
	Label string // for people
	OID   ber.OID
}

// Notification is a notification with the variables that it carries, apart from
// the time and its own identity.
type Notification struct {
	Kind    snap.NotifyKind
	Name    string
	OID     ber.OID // snmpTrapOID's value
	Objects []string
	// Description says when it is sent.
	Description string
}

var (
	wellKnownAlarms = ups(6, 3)
	wellKnownTests  = ups(7, 7)
	upsMIB          = ber.OID{1, 3, 6, 1, 2, 1, 33}
	upsTraps        = upsMIB.Child(2)
	snmpTraps       = ber.OID{1, 3, 6, 1, 6, 3, 1, 1, 5}
	ownTraps        = ownMIB.Child(0)
	zeroDotZero     = ber.OID{0, 0}
)

// ups is an identifier under upsObjects.
func ups(arcs ...uint32) ber.OID { return ber.OID{1, 3, 6, 1, 2, 1, 33, 1}.Child(arcs...) }

// ownMIB is RIDETHROUGH-MIB, our own module, under the enterprise number that
// RFC 5612 reserves for documentation.
var ownMIB = ber.OID{1, 3, 6, 1, 4, 1, 32473, 1}

// own is an identifier under rtObjects.
func own(arcs ...uint32) ber.OID { return ownMIB.Child(2).Child(arcs...) }

// compliance is the n-th compliance statement of RFC 1628.
func compliance(n uint32) ber.OID { return upsMIB.Child(3, 1, n) }

// system is an identifier under the system group.
func system(arcs ...uint32) ber.OID { return ber.OID{1, 3, 6, 1, 2, 1, 1}.Child(arcs...) }

// interfaces is an identifier under the interfaces group.
func interfaces(arcs ...uint32) ber.OID { return ber.OID{1, 3, 6, 1, 2, 1, 2}.Child(arcs...) }

// modules is an identifier under snmpModules.
func modules(arcs ...uint32) ber.OID { return ber.OID{1, 3, 6, 1, 6, 3}.Child(arcs...) }

// snmp is an identifier under the snmp group.
func snmp(arcs ...uint32) ber.OID { return ber.OID{1, 3, 6, 1, 2, 1, 11}.Child(arcs...) }

var alarms = numbered(wellKnownAlarms,
	"upsAlarmBatteryBad", "Battery needs replacement",
	"upsAlarmOnBattery", "On battery",
	"upsAlarmLowBattery", "Battery low",
	"upsAlarmDepletedBattery", "Battery cannot carry the load",
	"upsAlarmTempBad", "Temperature out of range",
	"upsAlarmInputBad", "Input out of tolerance",
	"upsAlarmOutputBad", "Output out of tolerance",
	"upsAlarmOutputOverload", "Output overloaded",
	"upsAlarmOnBypass", "On bypass",
	"upsAlarmBypassBad", "Bypass out of tolerance",
	"upsAlarmOutputOffAsRequested", "Output off as requested",
	"upsAlarmUpsOffAsRequested", "UPS off as requested",
	"upsAlarmChargerFailed", "Charger failed",
	"upsAlarmUpsOutputOff", "Output is off",
	"upsAlarmUpsSystemOff", "UPS is off",
	"upsAlarmFanFailure", "Fan failed",
	"upsAlarmFuseFailure", "Fuse failed",
	"upsAlarmGeneralFault", "General fault",
	"upsAlarmDiagnosticTestFailed", "Last test failed",
	"upsAlarmCommunicationsLost", "No contact between card and UPS",
	"upsAlarmAwaitingPower", "Off, waiting for the mains",
	"upsAlarmShutdownPending", "Shutdown countdown running",
	"upsAlarmShutdownImminent", "Output goes off within 5 seconds",
	"upsAlarmTestInProgress", "Test in progress",
)

var tests = numbered(wellKnownTests,
	"upsTestNoTestsInitiated", "No test yet",
	"upsTestAbortTestInProgress", "Abort the running test",
	"upsTestGeneralSystemsTest", "General systems test",
	"upsTestQuickBatteryTest", "Quick battery test",
	"upsTestDeepBatteryCalibration", "Deep battery calibration",
)

// numbered makes identities under parent, counting from 1, of names and labels
// by turns. Index 0 is an identity that names nothing.
func numbered(parent ber.OID, names ...string) []Identity {
	ids := []Identity{{OID: zeroDotZero, Label: "unknown"}}
	for i := 0; i+1 < len(names); i += 2 {
		ids = append(ids, Identity{Name: names[i], Label: names[i+1], OID: parent.Child(uint32(i/2 + 1))})
	}
	return ids
}

// Alarms is every well-known alarm, in the order of snap.AlarmKind.
func Alarms() []Identity { return append([]Identity(nil), alarms[1:]...) }

// Tests is every well-known test, in the order of snap.TestKind.
func Tests() []Identity { return append([]Identity(nil), tests[1:]...) }

// Alarm is the identity of k; of an unknown k it is 0.0.
func Alarm(k snap.AlarmKind) Identity { return pick(alarms, int(k)) }

// Test is the identity of k; of an unknown k it is 0.0.
func Test(k snap.TestKind) Identity { return pick(tests, int(k)) }

func pick(ids []Identity, i int) Identity {
	if i >= len(ids) {
		i = 0
	}
	return ids[i]
}

var notifications = []Notification{
	{snap.NotifyOnBattery, "upsTrapOnBattery", upsTraps.Child(1),
		[]string{"upsEstimatedMinutesRemaining", "upsSecondsOnBattery", "upsConfigLowBattTime"},
		"The output went to the battery, and once a minute while it is on it."},
	{snap.NotifyTestCompleted, "upsTrapTestCompleted", upsTraps.Child(2),
		[]string{"upsTestId", "upsTestSpinLock", "upsTestResultsSummary", "upsTestResultsDetail",
			"upsTestStartTime", "upsTestElapsedTime"},
		"A test has ended, whatever it came to."},
	{snap.NotifyAlarmAdded, "upsTrapAlarmEntryAdded", upsTraps.Child(3), []string{"upsAlarmId", "upsAlarmDescr"},
		"A row came into the alarm table, but not for upsAlarmOnBattery and upsAlarmTestInProgress."},
	{snap.NotifyAlarmRemoved, "upsTrapAlarmEntryRemoved", upsTraps.Child(4), []string{"upsAlarmId", "upsAlarmDescr"},
		"A row left the alarm table, but not for upsAlarmTestInProgress."},
	{snap.NotifyColdStart, "coldStart", snmpTraps.Child(1), nil, "The agent has started, perhaps with other settings."},
	{snap.NotifyWarmStart, "warmStart", snmpTraps.Child(2), nil, "The agent has started with the settings that it had."},
	{snap.NotifyAuthFailure, "authenticationFailure", snmpTraps.Child(5), nil, "A request came with a wrong community, unless snmpEnableAuthenTraps is disabled."},
	{snap.NotifyLinkDown, "linkDown", snmpTraps.Child(3), []string{"ifIndex", "ifAdminStatus", "ifOperStatus"},
		"The port lost its link. It leaves when the link is there again, before linkUp."},
	{snap.NotifyLinkUp, "linkUp", snmpTraps.Child(4), []string{"ifIndex", "ifAdminStatus", "ifOperStatus"},
		"The port has a link again, and the card an address."},
	{snap.NotifyGroupSwitched, "rtGroupSwitched", ownTraps.Child(1), []string{"rtGroupName", "rtGroupState"},
		"The outlets of a group became live, or dead. For each group at most one in 5 seconds, and the last one tells how it is."},
	{snap.NotifyProbeAlert, "rtProbeAlert", ownTraps.Child(2), []string{"rtProbeName", "rtProbeState", "rtProbeTemperature", "rtProbeCause"},
		"A probe passed a limit to the worse, or was lost. For each probe at most one in 5 seconds."},
	{snap.NotifyProbeBetter, "rtProbeBetter", ownTraps.Child(3), []string{"rtProbeName", "rtProbeState", "rtProbeTemperature", "rtProbeCause"},
		"A probe came back from a limit, or from being lost; it may still be beyond another one."},
	{snap.NotifyContact, "rtContactChanged", ownTraps.Child(4), []string{"rtContactName", "rtContactState", "rtContactSeverity"},
		"A contact came into another state. For each contact at most one in 5 seconds, and the last one tells how it is."},
	{snap.NotifyTry, "rtTestMessage", ownTraps.Child(5), []string{"sysName", "sysLocation"},
		"Somebody at the card asked for a test message to the receiver. Nothing has happened. To each receiver at most one in 5 seconds."},
	{snap.NotifyRisen, "rtWarningLasts", ownTraps.Child(6), []string{"sysName"},
		"A warning has lasted for alerts.rise-after and is critical from now on. Behind its object it carries what it is about: " +
			"upsAlarmId and upsAlarmDescr of an alarm, rtGroupName of an outlet group that is off, rtProbeName and rtProbeState, or rtContactName."},
}

// Beside are the objects that n carries behind those of its kind.
func Beside(n snap.Notification) []string {
	switch {
	case n.Kind != snap.NotifyRisen:
		return nil
	case n.Alarm != 0 && n.AlarmID != 0:
		return []string{"upsAlarmId", "upsAlarmDescr"}
	case n.Row == 0:
		return nil
	}
	switch n.Event.Alert().Class {
	case snap.ClassOutlets:
		return []string{"rtGroupName"}
	case snap.ClassSurroundings:
		if n.Event == snap.EventContact || n.Event == snap.EventContactFault {
			return []string{"rtContactName"}
		}
		return []string{"rtProbeName", "rtProbeState"}
	}
	return nil
}

// Notifications is every notification, in the order of snap.NotifyKind.
func Notifications() []Notification { return append([]Notification(nil), notifications...) }

// NotificationAt is the notification of kind k as a card of that level sends it:
// without the objects that the card does not have. One of which none is left is
// not sent.
func NotificationAt(k snap.NotifyKind, level snap.Conformance) (Notification, bool) {
	for _, n := range notifications {
		if n.Kind == k {
			carried := len(n.Objects)
			n.Objects = slices.DeleteFunc(slices.Clone(n.Objects), func(name string) bool { return !Lookup(name).carried(level) })
			return n, len(n.Objects) > 0 || carried == 0
		}
	}
	return Notification{}, false
}

// carried says whether a notification of a card of that level may carry the
// variable. An index, which no level names, goes with its table.
func (x *Variable) carried(level snap.Conformance) bool {
	if x.Access != NotAccessible {
		return x.In(level)
	}
	return slices.ContainsFunc(Served(level), func(y *Variable) bool { return y.Table == x.Table })
}
