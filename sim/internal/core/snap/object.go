package snap

// ObjectKind is what an object of RFC 1628 tells, as far as quirks care.
type ObjectKind uint8

// Kinds of objects.
const (
	Worded   ObjectKind = iota // text or an identifier
	Coded                      // an enumeration
	Counted                    // how many rows, failures or alarms there are
	Measured                   // a quantity that the card reads from its unit
	Settled                    // a number that was set, or counts down
)

// Object is an object of RFC 1628 that quirks can touch, by the standard's name.
type Object struct {
	Name  string
	Group string // "ident", "battery", "input", "output", "bypass", "alarm", "test", "control", "config"
	Kind  ObjectKind
}

// Number says whether the object is a number that is no code.
func (o *Object) Number() bool { return o.Kind >= Counted }

var objects = []Object{
	{"upsIdentManufacturer", "ident", Worded},
	{"upsIdentModel", "ident", Worded},
	{"upsIdentUPSSoftwareVersion", "ident", Worded},
	{"upsIdentAgentSoftwareVersion", "ident", Worded},
	{"upsIdentName", "ident", Worded},
	{"upsIdentAttachedDevices", "ident", Worded},
	{"upsBatteryStatus", "battery", Coded},
	{"upsSecondsOnBattery", "battery", Measured},
	{"upsEstimatedMinutesRemaining", "battery", Measured},
	{"upsEstimatedChargeRemaining", "battery", Measured},
	{"upsBatteryVoltage", "battery", Measured},
	{"upsBatteryCurrent", "battery", Measured},
	{"upsBatteryTemperature", "battery", Measured},
	{"upsInputLineBads", "input", Counted},
	{"upsInputNumLines", "input", Counted},
	{"upsInputFrequency", "input", Measured},
	{"upsInputVoltage", "input", Measured},
	{"upsInputCurrent", "input", Measured},
	{"upsInputTruePower", "input", Measured},
	{"upsOutputSource", "output", Coded},
	{"upsOutputFrequency", "output", Measured},
	{"upsOutputNumLines", "output", Counted},
	{"upsOutputVoltage", "output", Measured},
	{"upsOutputCurrent", "output", Measured},
	{"upsOutputPower", "output", Measured},
	{"upsOutputPercentLoad", "output", Measured},
	{"upsBypassFrequency", "bypass", Measured},
	{"upsBypassNumLines", "bypass", Counted},
	{"upsBypassVoltage", "bypass", Measured},
	{"upsBypassCurrent", "bypass", Measured},
	{"upsBypassPower", "bypass", Measured},
	{"upsAlarmsPresent", "alarm", Counted},
	{"upsAlarmDescr", "alarm", Worded},
	{"upsAlarmTime", "alarm", Settled},
	{"upsTestId", "test", Worded},
	{"upsTestSpinLock", "test", Settled},
	{"upsTestResultsSummary", "test", Coded},
	{"upsTestResultsDetail", "test", Worded},
	{"upsTestStartTime", "test", Settled},
	{"upsTestElapsedTime", "test", Settled},
	{"upsShutdownType", "control", Coded},
	{"upsShutdownAfterDelay", "control", Settled},
	{"upsStartupAfterDelay", "control", Settled},
	{"upsRebootWithDuration", "control", Settled},
	{"upsAutoRestart", "control", Coded},
	{"upsConfigInputVoltage", "config", Settled},
	{"upsConfigInputFreq", "config", Settled},
	{"upsConfigOutputVoltage", "config", Settled},
	{"upsConfigOutputFreq", "config", Settled},
	{"upsConfigOutputVA", "config", Settled},
	{"upsConfigOutputPower", "config", Settled},
	{"upsConfigLowBattTime", "config", Settled},
	{"upsConfigAudibleStatus", "config", Coded},
	{"upsConfigLowVoltageTransferPoint", "config", Settled},
	{"upsConfigHighVoltageTransferPoint", "config", Settled},
}

var objectByName = func() map[string]*Object {
	byName := make(map[string]*Object, len(objects))
	for i := range objects {
		byName[objects[i].Name] = &objects[i]
	}
	return byName
}()

// Objects are all that quirks can touch, in the order of their identifiers.
func Objects() []Object { return append([]Object(nil), objects...) }

// ObjectByName is the object of that name, or nil.
func ObjectByName(name string) *Object { return objectByName[name] }
