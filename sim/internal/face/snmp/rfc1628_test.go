package snmp

import (
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// What RFC 1628 says of writes, over the agent: each sentence as a manager would
// try it. How the unit obeys is in the tests of core/device.

// versions are those that a write comes in, with the word of each for a value that
// does not suit now (RFC 3584 section 4.4).
var versions = map[int32]Status{ber.V1: BadValue, ber.V2c: InconsistentValue}

func testOf(k snap.TestKind) ber.Value {
	return ber.Value{Tag: ber.ObjectID, OID: model.Test(k).OID}
}

// refuses fails unless the request meets the status at the index.
func (l *live) refuses(what string, version int32, status Status, index int32, pairs ...any) {
	l.t.Helper()
	if got, at := l.set(version, pairs...); got != status || at != index {
		l.t.Errorf("%s in version %d: status %d at %d, want %d at %d", what, version, got, at, status, index)
	}
}

// obeys fails unless the request is carried out.
func (l *live) obeys(what string, version int32, pairs ...any) {
	l.t.Helper()
	l.refuses(what, version, NoError, 0, pairs...)
}

// TestTestGroup: upsTestId and upsTestSpinLock. A test needs the lock in the same
// request, a second one is refused, abort ends it.
func TestTestGroup(t *testing.T) {
	const quick, abort = snap.TestQuickBattery, snap.TestAbort
	identity := func(k snap.TestKind) string { return model.Test(k).OID.String() }
	for version, inconsistent := range versions {
		l := begin(t, "").at(minute)
		l.want("before", "upsTestSpinLock", "1", "upsTestId", identity(snap.TestNone), "upsTestResultsSummary", "6",
			"upsTestStartTime", "0", "upsTestElapsedTime", "0")
		l.refuses("without the lock", version, inconsistent, 1, "upsTestId", testOf(quick))
		l.refuses("wrong lock", version, inconsistent, 2, "upsTestId", testOf(quick), "upsTestSpinLock", num(2))
		l.refuses("no such test", version, inconsistent, 2, "upsTestSpinLock", num(1), "upsTestId", ident("1.3.6.1.2.1.33.1.7.7.9"))
		l.refuses("no-tests-initiated", version, inconsistent, 2, "upsTestSpinLock", num(1), "upsTestId", testOf(snap.TestNone))
		l.want("refused", "upsTestSpinLock", "1", "upsTestId", identity(snap.TestNone), "upsTestResultsSummary", "6")

		l.obeys("test", version, "upsTestSpinLock", num(1), "upsTestId", testOf(quick))
		l.at(minute+2500*ms).want("running", "upsTestSpinLock", "2", "upsTestId", identity(quick), "upsTestResultsSummary", "5",
			"upsTestStartTime", "6000", "upsTestElapsedTime", "250")
		l.refuses("another", version, inconsistent, 2, "upsTestSpinLock", num(2), "upsTestId", testOf(snap.TestGeneralSystems))
		l.want("another refused", "upsTestSpinLock", "2", "upsTestId", identity(quick))

		l.obeys("abort", version, "upsTestId", testOf(abort), "upsTestSpinLock", num(2))
		l.at(2*minute).want("aborted", "upsTestSpinLock", "3", "upsTestId", identity(quick), "upsTestResultsSummary", "4", "upsTestElapsedTime", "250")

		l.obeys("once more", version, "upsTestSpinLock", num(3), "upsTestId", testOf(quick))
		l.at(3*minute).want("passed", "upsTestResultsSummary", "1", "upsTestStartTime", "12000", "upsTestElapsedTime", "1000")
	}
}

// TestCountdownObjects: upsShutdownAfterDelay, upsStartupAfterDelay and
// upsRebootWithDuration read the seconds left or -1, and say what each overrides.
func TestCountdownObjects(t *testing.T) {
	const off, on, reboot = "upsShutdownAfterDelay", "upsStartupAfterDelay", "upsRebootWithDuration"
	for version := range versions {
		wrong := WrongValue.in(version)
		l := begin(t, "").at(minute)
		l.want("at rest", off, "-1", on, "-1", reboot, "-1")

		l.obeys("shutdown", version, off, num(120))
		l.at(minute+30500*ms).want("rounded up", off, "90")
		l.obeys("replaced", version, off, num(300))
		l.want("replaced", off, "300")
		l.obeys("aborted", version, off, num(-1))
		l.at(10*minute).want("aborted", off, "-1", "upsOutputSource", "3")
		l.refuses("below -1", version, wrong, 1, off, num(-2))
		l.refuses("above 300", version, wrong, 1, reboot, num(301))
		l.want("refused", off, "-1", reboot, "-1")
		l.obeys("the longest", version, off, num(1<<31-1)) // erratum 3276
		l.want("the longest", off, "2147483647")

		l.obeys("0 is now", version, off, num(0))
		l.want("0 is now", off, "-1", "upsOutputSource", "2")
		l.obeys("startup", version, on, num(60))
		l.at(l.Now()+20*sec).want("startup", on, "40", "upsOutputSource", "2")
		l.obeys("overridden", version, on, num(90))
		l.want("overridden", on, "90")
		l.at(l.Now()+90*sec).want("started", on, "-1", "upsOutputSource", "3")

		l.obeys("startup while on", version, on, num(10))
		l.at(l.Now()+minute).want("nothing happens", on, "-1", "upsOutputSource", "3")

		l.obeys("reboot", version, reboot, num(60))
		l.at(l.Now()+10*sec).want("reboot", reboot, "50", "upsOutputSource", "2")
		l.obeys("startup overrides it", version, on, num(200))
		l.want("startup overrides it", reboot, "-1", on, "200")
		l.at(l.Now()+100*sec).want("still off", "upsOutputSource", "2")
		l.at(l.Now()+100*sec).want("on by startup", "upsOutputSource", "3", on, "-1")
		l.obeys("reboot", version, reboot, num(300))
		l.at(l.Now()+5*minute).want("on again within duration + 60 s", "upsOutputSource", "3", reboot, "-1")
	}
}

// TestCountdownInAnOutage: the mains returning does not end a shutdown countdown,
// startup waits for them, and upsAutoRestart covers only a shutdown that happened
// while they were out.
func TestCountdownInAnOutage(t *testing.T) {
	const off, on = "upsShutdownAfterDelay", "upsStartupAfterDelay"
	for name, row := range map[string]struct {
		restart  int64 // upsAutoRestart
		startup  int64
		back     vtime.Tick // of the mains; the output goes off at 2 min
		shutdown string     // source at 2 min
		end      string     // source in the end
	}{
		"back before it ends: stays off":       {1, -1, 119 * sec, "2", "2"},
		"back before it ends, startup armed":   {1, 300, 119 * sec, "2", "3"},
		"auto-restart":                         {1, -1, 5 * minute, "2", "3"},
		"auto-restart off":                     {2, -1, 5 * minute, "2", "2"},
		"auto-restart off, startup armed":      {2, 120, 5 * minute, "2", "3"},
		"startup falls due without the mains":  {2, 90, 10 * minute, "2", "3"},
		"auto-restart waits for startup":       {1, 600, 5 * minute, "2", "3"},
		"nothing is armed and nothing returns": {1, -1, 0, "2", "2"},
	} {
		t.Run(name, func(t *testing.T) {
			l := begin(t, "").at(minute)
			l.obeys("auto-restart", ber.V2c, "upsAutoRestart", num(row.restart))
			l.Inject(`source = "lost"`)
			l.obeys("both in one request", ber.V2c, off, num(60), on, num(row.startup))
			if row.back > 0 && row.back < 2*minute {
				l.at(row.back).Inject(`source = "normal"`)
				l.want("the mains are back", off, "1")
			}
			l.at(2*minute).want("off", "upsOutputSource", row.shutdown, off, "-1")
			if row.back > 2*minute {
				l.at(row.back).Inject(`source = "normal"`)
			}
			l.at(20*minute).want("in the end", "upsOutputSource", row.end, on, "-1")
		})
	}
}

// TestRestartAndCountdown: a restart of the agent may abort a countdown.
func TestRestartAndCountdown(t *testing.T) {
	for src, want := range map[string]string{"": "2", "restart_aborts = true\n": "3"} {
		l := begin(t, src).at(minute)
		l.obeys("shutdown", ber.V2c, "upsShutdownAfterDelay", num(300))
		l.Do(snap.Command{Op: snap.OpRestart, By: snap.Actor{Surface: "serial", Role: snap.Administrator}})
		l.at(10*minute).want(src+"after the restart", "upsOutputSource", want, "upsShutdownAfterDelay", "-1")
	}
}

// TestConfigObjects: what is not supported is refused as badValue or
// inconsistentValue and leaves what was there; upsConfigLowBattTime becomes the next
// greater value, or the greatest; the rating cannot be written.
func TestConfigObjects(t *testing.T) {
	for version, inconsistent := range versions {
		for _, row := range []struct {
			name      string
			value     int64
			status    Status
			then, was string
		}{
			{"upsConfigInputVoltage", 240, NoError, "240", "230"},
			{"upsConfigInputVoltage", 231, inconsistent, "230", "230"},
			{"upsConfigOutputVoltage", 400, inconsistent, "230", "230"},
			{"upsConfigInputFreq", 600, NoError, "600", "500"},
			{"upsConfigInputFreq", 550, inconsistent, "500", "500"},
			{"upsConfigOutputFreq", 0, inconsistent, "500", "500"},
			{"upsConfigOutputVA", 1000, NotWritable.in(version), "3000", "3000"},
			{"upsConfigOutputPower", 1000, NotWritable.in(version), "2700", "2700"},
			{"upsConfigLowBattTime", 7, NoError, "10", "5"},
			{"upsConfigLowBattTime", 10, NoError, "10", "5"},
			{"upsConfigLowBattTime", 61, NoError, "60", "5"},
			{"upsConfigLowBattTime", 1<<31 - 1, NoError, "60", "5"},
			{"upsConfigLowBattTime", 0, NoError, "1", "5"},
			{"upsConfigLowBattTime", -1, WrongValue.in(version), "5", "5"},
			{"upsConfigAudibleStatus", 1, NoError, "1", "2"},
			{"upsConfigAudibleStatus", 4, WrongValue.in(version), "2", "2"},
			{"upsConfigLowVoltageTransferPoint", 190, NoError, "190", "177"},
			{"upsConfigLowVoltageTransferPoint", 230, inconsistent, "177", "177"},
			{"upsConfigHighVoltageTransferPoint", 260, NoError, "260", "281"},
			{"upsConfigHighVoltageTransferPoint", 400, inconsistent, "281", "281"},
			{"upsShutdownType", 2, NoError, "2", "1"},
			{"upsShutdownType", 3, WrongValue.in(version), "1", "1"},
			{"upsAutoRestart", 2, NoError, "2", "1"},
			{"upsAutoRestart", 0, WrongValue.in(version), "1", "1"},
		} {
			l := begin(t, "").at(minute)
			index := int32(1)
			if row.status == NoError {
				index = 0
			}
			l.want("before", row.name, row.was)
			l.refuses(row.name, version, row.status, index, row.name, num(row.value))
			l.want("after", row.name, row.then)
		}
		// All or nothing (RFC 3416 section 4.2.5).
		l := begin(t, "").at(minute)
		l.refuses("the second of two", version, inconsistent, 2, "upsConfigLowBattTime", num(20), "upsConfigInputVoltage", num(231))
		l.want("the first of two", "upsConfigLowBattTime", "5")
	}
}

// TestMutedAlarm: upsConfigAudibleStatus. Muting lasts until the condition has
// ended; muting silence is accepted and does nothing.
func TestMutedAlarm(t *testing.T) {
	const audible = "upsConfigAudibleStatus"
	for version := range versions {
		l := begin(t, "").at(minute)
		l.obeys("muted in silence", version, audible, num(3))
		l.want("muted in silence", audible, "2")
		l.Inject(`alarm = {raise = "fan_failure"}`)
		l.obeys("muted", version, audible, num(3))
		l.at(2*minute).want("muted", audible, "3")
		l.Inject(`alarm = {clear = "fan_failure"}`)
		l.at(3*minute).want("the condition has ended", audible, "2")
	}
}

// TestNotificationRate: no one notification more often than once in five seconds,
// and the last state is not lost.
func TestNotificationRate(t *testing.T) {
	l := begin(t, "").at(minute)
	for i := range 15 { // ends raised
		l.at(minute + vtime.Tick(i)*700*ms).Inject(`alarm = {` + []string{"raise", "clear"}[i%2] + ` = "fuse_failure"}`)
	}
	l.at(5 * minute)
	told, last := l.toldOf(snap.AlarmFuseFailure), map[snap.NotifyKind]vtime.Tick{}
	for i, n := range l.Sent {
		if before, ok := last[n.Kind]; ok && l.SentAt[i]-before < 5*sec {
			t.Errorf("%v at %v and at %v", n.Kind, before, l.SentAt[i])
		}
		last[n.Kind] = l.SentAt[i]
	}
	row := l.alarmRow(snap.AlarmFuseFailure)
	if row == "" || len(told) < 3 || told[len(told)-1] != "alarm_added "+row {
		t.Errorf("row %q, told %v", row, told)
	}
}

// TestOnBatteryIsPersistent: upsTrapOnBattery comes at the transfer and once a
// minute until it ends, and carries the figures of its time.
func TestOnBatteryIsPersistent(t *testing.T) {
	l := begin(t, "").at(minute)
	l.Inject(`source = "lost"`)
	l.at(3*minute + 30*sec).Inject(`source = "normal"`)
	l.at(10 * minute)
	var at []vtime.Tick
	for i, n := range l.Sent {
		if n.Kind == snap.NotifyOnBattery {
			at = append(at, l.SentAt[i])
		}
	}
	if len(at) != 3 || at[0] != minute || at[1] != 2*minute || at[2] != 3*minute {
		t.Errorf("sent at %v", at)
	}
}
