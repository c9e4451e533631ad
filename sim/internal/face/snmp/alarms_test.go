package snmp

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// cause is how an alarm comes and goes: by physics, by a request of a manager, or,
// where the model has nothing that could break, by the bench. After clear the alarm
// goes within a time that may be long: heat takes its time.
type cause struct {
	kind         snap.AlarmKind
	src          string
	raise, clear func(*live)
}

// inject does what a timeline entry says.
func inject(toml string) func(*live) { return func(l *live) { l.Inject(toml) } }

// draws has the host draw watts.
func draws(watts int) string { return fmt.Sprintf("host = \"db\"\ndraw_w = %d", watts) }

// asks writes one variable.
func asks(name string, value int64) func(*live) {
	return func(l *live) {
		l.t.Helper()
		if status, index := l.set(ber.V2c, name, num(value)); status != NoError {
			l.t.Fatalf("%s = %d: status %d at %d", name, value, status, index)
		}
	}
}

// asksTest starts a test with the lock as it stands.
func asksTest(k snap.TestKind) func(*live) {
	return func(l *live) {
		l.t.Helper()
		lock := int64(l.Site.Test.SpinLock)
		if status, index := l.set(ber.V2c, "upsTestSpinLock", num(lock), "upsTestId", ber.Value{Tag: ber.ObjectID, OID: model.Test(k).OID}); status != NoError {
			l.t.Fatalf("%v: status %d at %d", k, status, index)
		}
	}
}

// first does one thing after the other, a second apart.
func first(parts ...func(*live)) func(*live) {
	return func(l *live) {
		l.t.Helper()
		for i, do := range parts {
			if i > 0 {
				l.at(l.Now() + sec)
			}
			do(l)
		}
	}
}

func waits(d vtime.Tick) func(*live) { return func(l *live) { l.at(l.Now() + d) } }

const (
	doubled = "[ups]\ntopology = \"VFI\"\n"
	lasting = "[battery]\ncapacity_ah = 100\nseries = 20\n"
	weak    = "[battery]\ncapacity_ah = 3\n[ups]\nlow_battery_minutes = 1\n"
	system  = "[ups]\nshutdown_type = \"system\"\n"
)

func byBench(k snap.AlarmKind) cause {
	name := k.String()
	return cause{kind: k, raise: inject(`alarm = {raise = "` + name + `"}`), clear: inject(`alarm = {clear = "` + name + `"}`)}
}

// causes is the well-known alarms of RFC 1628 upsWellKnownAlarms, in their order.
var causes = []cause{
	{snap.AlarmBatteryBad, weak, first(inject(draws(650)), asksTest(snap.TestQuickBattery)),
		first(inject(draws(50)), inject("charge_pct = 100"), asksTest(snap.TestQuickBattery))},
	{snap.AlarmOnBattery, "", inject(`source = "lost"`), inject(`source = "normal"`)},
	{snap.AlarmLowBattery, "", inject("charge_pct = 15"), inject("charge_pct = 90")},
	{snap.AlarmDepletedBattery, "", inject("charge_pct = 0"), inject("charge_pct = 90")},
	{snap.AlarmTempBad, doubled + lasting, first(inject(draws(2600)), inject(`fan = "failed"`)), inject(`fan = "working"`)},
	{snap.AlarmInputBad, "", inject(`source = "lost"`), inject(`source = "normal"`)},
	{snap.AlarmOutputBad, doubled, first(inject(`bypass = "maintenance"`), inject("source = {volts = 180}")), inject(`source = "normal"`)},
	{snap.AlarmOutputOverload, "[battery]\nseries = 20\n", inject(draws(2860)), inject(draws(2500))},
	{snap.AlarmOnBypass, doubled, inject(`bypass = "on"`), inject(`bypass = "off"`)},
	{snap.AlarmBypassBad, doubled, inject("source = {volts = 200}"), inject(`source = "normal"`)},
	{snap.AlarmOutputOffAsRequested, "", asks("upsShutdownAfterDelay", 0), first(waits(10*sec), asks("upsStartupAfterDelay", 0))},
	{snap.AlarmUPSOffAsRequested, system, asks("upsShutdownAfterDelay", 0), first(waits(10*sec), asks("upsStartupAfterDelay", 0))},
	{snap.AlarmChargerFailed, "", inject(`charger = "failed"`), inject(`charger = "working"`)},
	{snap.AlarmUPSOutputOff, "", inject(`output = "off"`), first(waits(10*sec), inject(`output = "on"`))},
	{snap.AlarmUPSSystemOff, system, asks("upsRebootWithDuration", 30), waits(30 * sec)},
	{snap.AlarmFanFailure, "", inject(`fan = "failed"`), inject(`fan = "working"`)},
	byBench(snap.AlarmFuseFailure),
	{snap.AlarmGeneralFault, doubled, inject(`inverter = "failed"`), inject(`inverter = "working"`)},
	{snap.AlarmDiagnosticTestFailed, "", first(inject(`charger = "failed"`), asksTest(snap.TestGeneralSystems)),
		first(inject(`charger = "working"`), asksTest(snap.TestGeneralSystems))},
	byBench(snap.AlarmCommunicationsLost),
	{snap.AlarmAwaitingPower, "", first(inject(`source = "lost"`), asks("upsShutdownAfterDelay", 0)), inject(`source = "normal"`)},
	{snap.AlarmShutdownPending, "", asks("upsShutdownAfterDelay", 60), asks("upsShutdownAfterDelay", -1)},
	{snap.AlarmShutdownImminent, "", asks("upsShutdownAfterDelay", 60), asks("upsShutdownAfterDelay", -1)},
	{snap.AlarmTestInProgress, "", asksTest(snap.TestGeneralSystems), waits(0)},
}

// TestEveryAlarm raises and clears each of the 24 alarms by its cause and, all over
// again, by the bench. Seen from outside it comes into the alarm table and goes, and
// is told of: both but for on-battery and test-in-progress, of which the one is told
// by its end alone and the other not at all (RFC 1628 upsTrapAlarmEntryAdded,
// upsTrapAlarmEntryRemoved).
func TestEveryAlarm(t *testing.T) {
	if len(causes) != int(snap.AlarmKinds)-1 {
		t.Fatalf("%d causes", len(causes))
	}
	for i, c := range causes {
		if c.kind != snap.AlarmKind(i+1) {
			t.Fatalf("%v stands at %d", c.kind, i)
		}
		t.Run(c.kind.String(), func(t *testing.T) { checkAlarm(t, c) })
		t.Run(c.kind.String()+" by the bench", func(t *testing.T) { checkAlarm(t, byBench(c.kind)) })
	}
}

func checkAlarm(t *testing.T, c cause) {
	l := begin(t, c.src).at(minute)
	if l.alarmRow(c.kind) != "" {
		t.Fatal("it is there already")
	}
	c.raise(l)
	l.await(c.kind, true)
	row := l.alarmRow(c.kind)
	l.want("raised", "upsAlarmDescr."+row, model.Alarm(c.kind).OID.String(), "upsAlarmTime."+row, fmt.Sprint(int64(l.Now()/10)))
	if n := strings.Count(l.column("upsAlarmDescr"), "="); l.get("upsAlarmsPresent") != fmt.Sprint(n) || n == 0 {
		t.Errorf("%s are present, %d rows", l.get("upsAlarmsPresent"), n)
	}
	c.clear(l)
	l.await(c.kind, false)
	l.want("cleared", "upsAlarmDescr."+row, "no such instance")
	l.at(l.Now() + minute) // all that had to wait has left
	var want []string
	if c.kind != snap.AlarmOnBattery && c.kind != snap.AlarmTestInProgress {
		want = append(want, "alarm_added "+row)
	}
	if c.kind != snap.AlarmTestInProgress {
		want = append(want, "alarm_removed "+row)
	}
	if diff := cmp.Diff(want, l.toldOf(c.kind)); diff != "" {
		t.Error(diff)
	}
}

// await goes on until the alarm is there, or is not.
func (l *live) await(k snap.AlarmKind, present bool) {
	l.t.Helper()
	for end := l.Now() + 12*vtime.Hour; (l.alarmRow(k) != "") != present; l.Step() {
		if l.Now() > end {
			l.t.Fatalf("present %v is not seen", present)
		}
	}
}

// alarmRow is the index of the alarm's row as the table shows it, "" without one.
func (l *live) alarmRow(k snap.AlarmKind) string {
	l.t.Helper()
	for row := range strings.FieldsSeq(l.column("upsAlarmDescr")) {
		if index, oid, _ := strings.Cut(row, "="); oid == model.Alarm(k).OID.String() {
			return index
		}
	}
	return ""
}

// toldOf is what left about the alarm, as a receiver reads it.
func (l *live) toldOf(k snap.AlarmKind) (list []string) {
	l.t.Helper()
	for _, n := range l.Sent {
		if n.Alarm != k {
			continue
		}
		b, err := l.agent.Notification(nil, Envelope{Version: V2c, Community: "alerts"}, n)
		if err != nil {
			l.t.Fatal(err)
		}
		var m ber.Message
		if err := m.Decode(b); err != nil {
			l.t.Fatal(err)
		}
		identity, id, descr := &m.PDU.VarBinds[1], &m.PDU.VarBinds[2], &m.PDU.VarBinds[3]
		row := id.Name[len(id.Name)-1]
		if int64(row) != id.Value.Int || descr.Name[len(descr.Name)-1] != row || short(descr.Value) != model.Alarm(k).OID.String() {
			l.t.Errorf("%v tells %v of %v", n.Kind, id, descr)
		}
		if got := identity.Value.OID[len(identity.Value.OID)-1]; got != uint32(n.Kind) {
			l.t.Errorf("%v is %v", n.Kind, identity.Value.OID)
		}
		list = append(list, fmt.Sprintf("%v %d", n.Kind, row))
	}
	return list
}
