package model

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
)

// device is a unit on battery with two alarms; the figures are invented.
func device() *snap.Device {
	d := &snap.Device{
		Tick: 100 * vtime.Second,
		Card: snap.Card{
			State: snap.CardRunning, StartedAt: 10 * vtime.Second, SetSerialNo: 7,
			Identity: snap.Identity{SerialNumber: "S-1", Model: "Demo card", Firmware: "1.0"},
			Settings: snap.Settings{Name: "ups-1", Location: "Salle d\xe9m\xe9", UPSName: "Rack 1"},
		},
		UPS: snap.UPS{
			Manufacturer: "A manufacturer with a name that is too long", Model: "Demo 1500",
			Source: snap.SourceBattery, OnBatterySince: 40*vtime.Second + 1, LineBads: 3,
		},
		Battery: snap.Battery{
			Status: snap.BatteryNormal, RuntimeS: 1079, ChargePct: 97.5, Volts: 81.649, Amps: -0.25, TempC: 24.5,
		},
		Test: snap.Test{ID: snap.TestQuickBattery, SpinLock: 2, Result: snap.ResultPass,
			Started: 20 * vtime.Second, Ended: 32*vtime.Second + 345},
		Control: snap.Control{ShutdownType: 1, ShutdownAt: 130 * vtime.Second, StartupAt: vtime.Never, RebootUntil: vtime.Never},
		Config:  snap.Config{OutputVolts: 230, OutputHz: 50, LowBatteryMinutes: 5, Audible: snap.AudibleEnabled},
	}
	d.Input = snap.Lines{Count: 1, Frequency: 49.96, Lines: [3]snap.Line{{Volts: 0.4}}}
	d.Output = snap.Lines{Count: 1, Frequency: 50, Lines: [3]snap.Line{{Volts: 230.5, Amps: 5.249, Watts: 1080, LoadPct: 240}}}
	d.Alarms.Count = 2
	d.Alarms.Rows[0] = snap.Alarm{ID: 3, Kind: snap.AlarmTempBad, Before: true}
	d.Alarms.Rows[1] = snap.Alarm{ID: 9, Kind: snap.AlarmOnBattery, Since: 40 * vtime.Second}
	return d
}

// worn is a port that has seen better links.
func worn(d *snap.Device) {
	d.Card.Port = &snap.Port{Mbit: 10, Half: true, InErrors: 12, OutErrors: 34, LateCollisions: 34}
}

func TestNumbers(t *testing.T) {
	const now = 100*vtime.Second + 999
	tests := []struct {
		name   string
		row    int
		want   int64
		change func(*snap.Device)
	}{
		{name: "sysUpTime", want: 9099},
		{name: "sysUpTime", want: 0, change: func(d *snap.Device) { d.Card.StartedAt = now }},
		{name: "sysUpTime", want: 9099, change: func(d *snap.Device) { d.Card.StartedAt -= 10 << 32 }}, // wraps: RFC 2578 7.1.8
		{name: "sysServices", want: 72},
		{name: "ifSpeed", want: 100_000_000},
		{name: "ifSpeed", want: 10_000_000, change: worn},
		{name: "ifInErrors", want: 0},
		{name: "ifInErrors", want: 12, change: worn},
		{name: "ifOutErrors", want: 34, change: worn},
		{name: "snmpEnableAuthenTraps", want: 2},
		{name: "snmpSetSerialNo", want: 7},
		{name: "upsBatteryStatus", want: 2},
		{name: "upsSecondsOnBattery", want: 60},
		{name: "upsSecondsOnBattery", want: 0, change: func(d *snap.Device) { d.UPS.OnBatterySince = vtime.Never }},
		{name: "upsEstimatedMinutesRemaining", want: 17},
		{name: "upsEstimatedMinutesRemaining", want: 1, change: func(d *snap.Device) { d.Battery.RuntimeS = 0 }},
		{name: "upsEstimatedMinutesRemaining", want: 1, change: func(d *snap.Device) { d.Battery.RuntimeS = math.NaN() }},
		{name: "upsEstimatedMinutesRemaining", want: math.MaxInt32, change: func(d *snap.Device) { d.Battery.RuntimeS = math.Inf(1) }},
		{name: "upsEstimatedChargeRemaining", want: 98},
		{name: "upsEstimatedChargeRemaining", want: 100, change: func(d *snap.Device) { d.Battery.ChargePct = 103 }},
		{name: "upsBatteryVoltage", want: 816},
		{name: "upsBatteryVoltage", want: 0, change: func(d *snap.Device) { d.Battery.Volts = math.NaN() }},
		{name: "upsBatteryCurrent", want: -3},
		{name: "upsBatteryCurrent", want: math.MinInt32, change: func(d *snap.Device) { d.Battery.Amps = math.Inf(-1) }},
		{name: "upsBatteryTemperature", want: 25},
		{name: "upsInputLineBads", want: 3},
		{name: "upsInputNumLines", want: 1},
		{name: "upsInputFrequency", want: 500},
		{name: "upsInputVoltage", want: 0},
		{name: "upsOutputSource", want: 5},
		{name: "upsOutputSource", want: 1, change: func(d *snap.Device) { d.UPS.Source = 0 }},
		{name: "upsOutputVoltage", want: 231},
		{name: "upsOutputCurrent", want: 52},
		{name: "upsOutputPower", want: 1080},
		{name: "upsOutputPercentLoad", want: 200},
		{name: "upsBypassNumLines", want: 0},
		{name: "upsAlarmsPresent", want: 2},
		{name: "upsAlarmId", row: 1, want: 9},
		{name: "upsAlarmTime", row: 0, want: 0},
		{name: "upsAlarmTime", row: 1, want: 3000},
		{name: "upsTestSpinLock", want: 2},
		{name: "upsTestResultsSummary", want: 1},
		{name: "upsTestStartTime", want: 1000},
		{name: "upsTestStartTime", want: 0, change: func(d *snap.Device) { d.Test.Started = 9 * vtime.Second }},
		{name: "upsTestStartTime", want: 0, change: func(d *snap.Device) { d.Test.ID = snap.TestNone }},
		{name: "upsTestElapsedTime", want: 1234},
		{name: "upsTestElapsedTime", want: 8099, change: func(d *snap.Device) { d.Test.Ended = vtime.Never }},
		{name: "upsTestElapsedTime", want: 0, change: func(d *snap.Device) { d.Test.ID = snap.TestNone }},
		{name: "upsShutdownAfterDelay", want: 30}, // 29.001 s are left
		{name: "upsShutdownAfterDelay", want: 1, change: func(d *snap.Device) { d.Control.ShutdownAt = now + 1 }},
		{name: "upsShutdownAfterDelay", want: 0, change: func(d *snap.Device) { d.Control.ShutdownAt = now }},
		{name: "upsShutdownAfterDelay", want: 0, change: func(d *snap.Device) { d.Control.ShutdownAt = now - 5000 }},
		{name: "upsStartupAfterDelay", want: -1},
		{name: "upsRebootWithDuration", want: -1},
		{name: "upsAutoRestart", want: 2},
		{name: "upsAutoRestart", want: 1, change: func(d *snap.Device) { d.Control.AutoRestart = true }},
		{name: "upsConfigOutputFreq", want: 500},
		{name: "upsConfigLowBattTime", want: 5},
		{name: "upsConfigAudibleStatus", want: 2},
	}
	for _, tt := range tests {
		d := device()
		if tt.change != nil {
			tt.change(d)
		}
		x := Lookup(tt.name)
		if got := x.At(&View{Dev: d, Now: now}, tt.row).Int; got != tt.want {
			t.Errorf("%s is %d, want %d", tt.name, got, tt.want)
		}
	}
}

func TestTexts(t *testing.T) {
	d, now := device(), 100*vtime.Second
	tests := map[string]string{
		"sysDescr":                     "ridethrough SIMULATION of a UPS network card, model Demo card, firmware 1.0, serial S-1",
		"sysObjectID":                  "1.3.6.1.4.1.32473.1.1",
		"sysUpTime":                    "0:01:30",
		"sysLocation":                  "Salle d?m?",
		"upsIdentManufacturer":         "A manufacturer with a name that",
		"upsBatteryStatus":             "normal",
		"upsSecondsOnBattery":          "59 s",
		"upsEstimatedMinutesRemaining": "17 min",
		"upsEstimatedChargeRemaining":  "98 %",
		"upsBatteryVoltage":            "81.6 V",
		"upsBatteryCurrent":            "-0.3 A",
		"upsOutputSource":              "battery",
		"upsOutputCurrent":             "5.2 A",
		"upsBypassVoltage":             "-",
		"upsAlarmDescr":                "Temperature out of range",
		"upsTestId":                    "Quick battery test",
		"upsTestElapsedTime":           "0:00:12",
		"upsShutdownAfterDelay":        "30 s",
		"upsStartupAfterDelay":         "not set",
		"upsConfigOutputFreq":          "50.0 Hz",
		"upsConfigAudibleStatus":       "on",
	}
	for name, want := range tests {
		if got := Lookup(name).Text(d, now); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if got := Lookup("upsAlarmDescr").RowText(d, now, 1); got != "On battery" {
		t.Errorf("second alarm is %q", got)
	}
	if got := Lookup("upsAlarmDescr").RowText(d, now, 2); got != "-" {
		t.Errorf("alarm that is not there is %q", got)
	}
	d.Card.StartedAt = now - 3*24*vtime.Hour
	if got := Lookup("sysUpTime").Text(d, now); got != "3 d 0:00:00" {
		t.Errorf("up time is %q", got)
	}
}

func TestDescriptionFollowsTheCard(t *testing.T) {
	v := View{Dev: device()}
	first := Lookup("sysDescr").At(&v, 0).Text
	other := device()
	other.Card.Identity.Firmware = "2.0"
	v.Dev = other
	if second := Lookup("sysDescr").At(&v, 0).Text; second == first {
		t.Errorf("still %q", second)
	}
}

func TestCounters(t *testing.T) {
	var c Counters
	c.Add(OutTraps, 5)
	x := Lookup("snmpOutTraps")
	if got := x.At(&View{Dev: device(), Counters: &c}, 0).Int; got != 5 {
		t.Errorf("counted %d", got)
	}
	c.Reset()
	if c.Load(OutTraps) != 0 {
		t.Error("not reset")
	}
	for k := Counter(1); k < snmpEnd; k++ {
		if x, ok := findOID(snmp(uint32(k))); ok && x.Syntax.Tag == ber.Counter32 {
			c.Add(k, int(k))
			if got := x.At(&View{Dev: device(), Counters: &c}, 0).Int; got != int64(k) {
				t.Errorf("%s shows %d, want %d", x.Name, got, k)
			}
		}
	}
}

func findOID(oid ber.OID) (*Variable, bool) {
	for _, x := range All() {
		if x.OID.Equal(oid) {
			return x, true
		}
	}
	return nil, false
}

// TestNeverOutOfRange holds that no state of the device makes a variable leave
// its syntax.
func TestNeverOutOfRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := View{Dev: anyDevice(t), Now: vtime.Tick(rapid.Int64Range(0, 1<<50).Draw(t, "now"))}
		for _, x := range All() {
			for row := range x.Rows(&v) {
				checkInSyntax(t, x, x.At(&v, row))
			}
		}
	})
}

func checkInSyntax(t *rapid.T, x *Variable, value Value) {
	size := value.Int
	switch x.Syntax.Tag {
	case ber.ObjectID:
		if len(value.OID) < 2 {
			t.Fatalf("%s is %v", x.Name, value.OID)
		}
		return
	case ber.OctetString:
		size = int64(len(value.Text))
	}
	if size < x.Syntax.Min || size > x.Syntax.Max {
		t.Fatalf("%s is %+v", x.Name, value)
	}
	if _, ok := x.Syntax.Enum(value.Int); len(x.Syntax.Enums) > 0 && !ok {
		t.Fatalf("%s is %d, which has no name", x.Name, value.Int)
	}
}

func anyDevice(t *rapid.T) *snap.Device {
	d := device()
	tick := func(name string) vtime.Tick { return vtime.Tick(rapid.Int64().Draw(t, name)) / 4 }
	d.Card.StartedAt, d.UPS.OnBatterySince = tick("started"), tick("on battery")
	d.Test.ID, d.Test.Started, d.Test.Ended = snap.TestKind(rapid.Byte().Draw(t, "test")), tick("test began"), tick("test ended")
	d.Test.Result = snap.TestResult(rapid.Byte().Draw(t, "result"))
	d.Test.Detail = rapid.String().Draw(t, "detail")
	d.Control.ShutdownAt, d.Control.ShutdownType = tick("shutdown"), rapid.Int().Draw(t, "type")
	d.UPS.Source = snap.OutputSource(rapid.Byte().Draw(t, "source"))
	d.Battery.RuntimeS, d.Battery.Amps = rapid.Float64().Draw(t, "runtime"), rapid.Float64().Draw(t, "amps")
	d.Output.Count, d.Output.Lines[0].LoadPct = rapid.IntRange(-1, 9).Draw(t, "lines"), rapid.Float64().Draw(t, "load")
	d.Alarms.Rows[0].Kind = snap.AlarmKind(rapid.Byte().Draw(t, "alarm"))
	return d
}

func TestAccept(t *testing.T) {
	integer := func(n int64) ber.Value { return ber.Value{Tag: ber.Integer, Int: n} }
	octets := func(s string) ber.Value { return ber.Value{Tag: ber.OctetString, Bytes: []byte(s)} }
	oid := func(o ber.OID) ber.Value { return ber.Value{Tag: ber.ObjectID, OID: o} }
	tests := []struct {
		name  string
		value ber.Value
		want  Refusal
		set   snap.Assignment
	}{
		{"upsRebootWithDuration", integer(-1), Accepted, snap.Assignment{Var: snap.VarReboot, Int: -1}},
		{"upsRebootWithDuration", integer(301), WrongValue, snap.Assignment{}},
		{"upsRebootWithDuration", ber.Value{Tag: ber.Gauge32, Int: 1}, WrongType, snap.Assignment{}},
		{"upsShutdownAfterDelay", integer(math.MaxInt32), Accepted, snap.Assignment{Var: snap.VarShutdownAfter, Int: math.MaxInt32}},
		{"upsShutdownAfterDelay", integer(-2), WrongValue, snap.Assignment{}},
		{"upsAutoRestart", integer(2), Accepted, snap.Assignment{Var: snap.VarAutoRestart, Int: 2}},
		{"upsAutoRestart", integer(0), WrongValue, snap.Assignment{}},
		{"upsIdentName", octets("a name"), Accepted, snap.Assignment{Var: snap.VarIdentName, Text: "a name"}},
		{"upsIdentName", octets("0123456789012345678901234567890123456789012345678901234567890123"), WrongLength, snap.Assignment{}},
		{"upsIdentName", octets("\xc3\xa9"), WrongValue, snap.Assignment{}},
		{"upsTestId", oid(ups(7, 7, 4)), Accepted, snap.Assignment{Var: snap.VarTestID, Int: int64(snap.TestQuickBattery)}},
		{"upsTestId", oid(ups(7, 7, 6)), Accepted, snap.Assignment{Var: snap.VarTestID}},
		{"upsTestId", oid(ber.OID{0, 0}), Accepted, snap.Assignment{Var: snap.VarTestID}},
		{"upsTestId", integer(4), WrongType, snap.Assignment{}},
	}
	for _, tt := range tests {
		set, refusal := Lookup(tt.name).Accept(tt.value)
		if refusal != tt.want || refusal == Accepted && set != tt.set {
			t.Errorf("%s = %+v: %+v, %d", tt.name, tt.value, set, refusal)
		}
	}
}
