package snap

import "ridethrough/sim/internal/core/vtime"

// AlarmKind is one of the 24 well-known alarms of RFC 1628; the numbers are the
// last arc of its identity under upsWellKnownAlarms.
type AlarmKind uint8

// The well-known alarms.
const (
	AlarmBatteryBad AlarmKind = iota + 1
	AlarmOnBattery
	AlarmLowBattery
	AlarmDepletedBattery
	AlarmTempBad
	AlarmInputBad
	AlarmOutputBad
	AlarmOutputOverload
	AlarmOnBypass
	AlarmBypassBad
	AlarmOutputOffAsRequested
	AlarmUPSOffAsRequested
	AlarmChargerFailed
	AlarmUPSOutputOff
	AlarmUPSSystemOff
	AlarmFanFailure
	AlarmFuseFailure
	AlarmGeneralFault
	AlarmDiagnosticTestFailed
	AlarmCommunicationsLost
	AlarmAwaitingPower
	AlarmShutdownPending
	AlarmShutdownImminent
	AlarmTestInProgress

	// AlarmKinds is the number of kinds plus one: a size for arrays by kind.
	AlarmKinds
)

var alarmNames = []string{
	"", "battery_bad", "on_battery", "low_battery", "depleted_battery", "temp_bad",
	"input_bad", "output_bad", "output_overload", "on_bypass", "bypass_bad",
	"output_off_as_requested", "ups_off_as_requested", "charger_failed",
	"ups_output_off", "ups_system_off", "fan_failure", "fuse_failure",
	"general_fault", "diagnostic_test_failed", "communications_lost",
	"awaiting_power", "shutdown_pending", "shutdown_imminent", "test_in_progress",
}

// String is the standard's name for k in lower case with underscores; scenarios
// use it as alarms.<name>.
func (k AlarmKind) String() string { return nameOf(alarmNames, int(k)) }

// AlarmByName is the kind with that name, 0 if there is none.
func AlarmByName(name string) AlarmKind {
	for k, n := range alarmNames {
		if k > 0 && n == name {
			return AlarmKind(k)
		}
	}
	return 0
}

// Alarm is one row of the alarm table.
type Alarm struct {
	ID    int32 // row index: rises, never reused before it wraps
	Kind  AlarmKind
	Since vtime.Tick // when the agent saw it begin
	// Before says that the condition was there before the agent started; its
	// time stamp is then shown as 0.
	Before bool
}

// Alarms is the alarm table in order of ID: the first Count rows. Two rows
// never have the same kind.
type Alarms struct {
	Count int
	Rows  [AlarmKinds]Alarm
}

// Has says whether a row of that kind is present.
func (a *Alarms) Has(k AlarmKind) bool {
	for i := range a.Count {
		if a.Rows[i].Kind == k {
			return true
		}
	}
	return false
}
