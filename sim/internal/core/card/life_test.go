package card_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const (
	ms  = vtime.Millisecond
	sec = vtime.Second
	min = vtime.Minute
)

// site has a card that takes 75 s to boot and a host of 600 W.
const site = `
title = "one card"
run_for = "24h"
[[host]]
name = "db"
draw_w = 600
[card]
boot_takes = "75s"
`

const fixed = site + "address = \"192.0.2.10/24\"\n"

// sent is what left from one time on, one line each.
func sent(r *playtest.Run, from vtime.Tick) []string {
	var lines []string
	for i, n := range r.Sent {
		if r.SentAt[i] >= from {
			text := n.Kind.String()
			if n.Alarm != 0 {
				text += " " + n.Alarm.String()
			}
			lines = append(lines, fmt.Sprintf("%v %s", r.SentAt[i]-from, text))
		}
	}
	return lines
}

func compare(t *testing.T, got []string, want ...string) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// TestOutageNotifications: RFC 1628 upsTrapOnBattery at the transfer and every
// minute while on battery; the removal of on_battery is the all-clear (field
// fact f).
func TestOutageNotifications(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`source = "lost"`).To(3*min + 30*sec).Inject(`source = "normal"`).To(10 * min)
	compare(t, sent(r, min),
		"0:00:00.000 alarm_added input_bad",
		"0:00:00.000 on_battery",
		"0:01:00.000 on_battery",
		"0:02:00.000 on_battery",
		"0:02:30.000 alarm_removed input_bad",
		"0:02:35.000 alarm_removed on_battery",
	)
	want := snap.Sent{snap.NotifyColdStart: 1, snap.NotifyAlarmAdded: 1, snap.NotifyOnBattery: 3, snap.NotifyAlarmRemoved: 2}
	if r.Site.Sent != want {
		t.Errorf("counted %v, want %v", r.Site.Sent, want)
	}
}

// TestTestNotifications: a passed test sends test_completed and the all-clear of
// on_battery, nothing of test_in_progress (RFC 1628 upsTrapTestCompleted).
func TestTestNotifications(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`test = "quick-battery"`).To(5 * min)
	compare(t, sent(r, min),
		"0:00:00.000 on_battery", "0:00:10.000 alarm_removed on_battery", "0:00:10.000 test_completed")
}

// TestAbortedTestIsCompleted: so is one that the mains end.
func TestAbortedTestIsCompleted(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`test = "deep-calibration"`).To(min + 20*sec).Inject(`source = "lost"`).To(min + 30*sec)
	compare(t, sent(r, min), "0:00:00.000 on_battery", "0:00:20.000 alarm_added input_bad", "0:00:20.000 test_completed")
}

// TestRestartInAnOutage: RFC 1628 upsSecondsOnBattery counts from the agent's
// start if that came later; the alarm table starts anew with what is there being
// older than the agent (upsAlarmTime 0). Field fact b, incident 11.
func TestRestartInAnOutage(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`source = "lost"`).To(2 * min).Ask(snap.OpRestart)
	if c := r.Site.Card; c.State != snap.CardBooting || c.RunningAt != 2*min+75*sec || r.Site.Alarms.Count != 0 || c.Address.Reachable() {
		t.Errorf("while it boots: %+v, %d alarms", c, r.Site.Alarms.Count)
	}
	r.To(5 * min)
	began := 2*min + 75*sec
	if c := r.Site.Card; c.State != snap.CardRunning || c.StartedAt != began || c.Boots != 2 {
		t.Errorf("%+v", c)
	}
	if got := r.Site.UPS.OnBatterySince; got != began {
		t.Errorf("on battery since %v, want %v", got, began)
	}
	for i, row := range r.Site.Alarms.Rows[:r.Site.Alarms.Count] {
		if row.ID != int32(i+1) || !row.Before {
			t.Errorf("%+v", row)
		}
	}
	compare(t, sent(r, 2*min+ms),
		"0:01:14.999 warm_start",
		"0:01:14.999 alarm_added input_bad",
		"0:01:14.999 on_battery",
		"0:02:14.999 on_battery")
}

// TestColdAndWarmStart: RFC 3418: cold if the configuration may have changed. A
// name is in force at once, a community after the restart.
func TestColdAndWarmStart(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Ask(snap.OpRestart).To(5 * min)
	s := r.Site.Card.Saved
	s.Location, s.ReadCommunity = "Rack 2", snap.NewSecret("another")
	if res := r.Do(snap.Command{Op: snap.OpSave, Settings: &s}); res.Status != snap.Done {
		t.Fatal(res.Reason)
	}
	if now := r.Site.Card.Settings; now.Location != "Rack 2" || now.ReadCommunity.Reveal() == "another" || r.Site.Card.Saved.ReadCommunity.Reveal() != "another" {
		t.Errorf("before the restart %+v are in force", now)
	}
	r.Ask(snap.OpRestart).To(10 * min)
	if r.Site.Card.Settings.ReadCommunity.Reveal() != "another" {
		t.Error("saved settings are not in force after the restart")
	}
	r.Ask(snap.OpRestart).To(15 * min)
	var kinds []string
	for _, n := range r.Sent {
		kinds = append(kinds, n.Kind.String())
	}
	compare(t, kinds, "cold_start", "warm_start", "cold_start", "warm_start")
}

// TestNamesAreKept: what SNMP writes is in force at once and survives.
func TestNamesAreKept(t *testing.T) {
	r := playtest.Start(t, fixed).To(min)
	res := r.Set(snap.Assignment{Var: snap.VarSysName, Text: "a"}, snap.Assignment{Var: snap.VarSysLocation, Text: "b"},
		snap.Assignment{Var: snap.VarSysContact, Text: "c"}, snap.Assignment{Var: snap.VarIdentName, Text: "d"},
		snap.Assignment{Var: snap.VarAttachedDevices, Text: "e"})
	if res.Status != snap.Done {
		t.Fatal(res.Reason)
	}
	names := func() string {
		s := r.Site.Card.Settings
		return s.Name + s.Location + s.Contact + s.UPSName + s.Attached
	}
	if got := names(); got != "abcde" {
		t.Errorf("at once %q", got)
	}
	r.Ask(snap.OpRestart).To(5 * min)
	if got := names(); got != "abcde" {
		t.Errorf("after a restart %q", got)
	}
}

// TestCountdownAndRestart: RFC 1628 upsShutdownAfterDelay: a restart of the agent
// may abort it; the output goes off or does not (incident 12).
func TestCountdownAndRestart(t *testing.T) {
	for aborts, off := range map[string]bool{"false": true, "true": false} {
		r := playtest.Start(t, fixed+"restart_aborts = "+aborts+"\n").To(min).Write(snap.VarShutdownAfter, 300).Write(snap.VarStartupAfter, 900)
		r.Ask(snap.OpRestart).To(3 * min)
		if counts := r.Site.Control.ShutdownAt != vtime.Never; counts != off {
			t.Errorf("restart_aborts = %s: counts %v", aborts, counts)
		}
		if r.To(10 * min); r.Site.UPS.OutputOn == off {
			t.Errorf("restart_aborts = %s: output on %v", aborts, r.Site.UPS.OutputOn)
		}
		if r.To(17 * min); !r.Site.UPS.OutputOn {
			t.Errorf("restart_aborts = %s: the startup was lost", aborts)
		}
	}
}

// TestNoSupply: with the system off and the mains out the card is dead; the mains
// wake it before the system is on again.
func TestNoSupply(t *testing.T) {
	src := strings.Replace(fixed, "[[host]]", "[ups]\nshutdown_type = \"system\"\nauto_restart = false\n[[host]]", 1)
	r := playtest.Start(t, src).To(min).Write(snap.VarShutdownAfter, 60).To(3 * min)
	if r.Site.Card.State != snap.CardRunning {
		t.Fatalf("system off on mains: %v", r.Site.Card.State)
	}
	r.Inject(`source = "lost"`)
	if c := r.Site.Card; c.State != snap.CardOff || c.Address.Reachable() {
		t.Errorf("no supply: %v, %+v", c.State, c.Address)
	}
	for _, op := range []snap.Op{snap.OpSet, snap.OpSave, snap.OpRestart, snap.OpSignIn, snap.OpAuthFail} {
		if res := r.Do(snap.Command{Op: op, Settings: &snap.Settings{}}); res.Status != snap.Busy {
			t.Errorf("%s to a dead card: %+v", op, res)
		}
	}
	r.To(5 * min).Inject(`source = "normal"`).To(5*min + 75*sec - ms)
	if r.Site.Card.State != snap.CardBooting {
		t.Errorf("%v while it boots", r.Site.Card.State)
	}
	r.To(5*min + 75*sec)
	if c := r.Site.Card; c.State != snap.CardRunning || c.Boots != 2 || r.Site.UPS.SystemOn {
		t.Errorf("card %v, start %d, system %v", c.State, c.Boots, r.Site.UPS.SystemOn)
	}
	compare(t, sent(r, 4*min)[:1], "0:02:15.000 cold_start")
}

// TestTestEndsWhileTheCardIsDown: the result is the unit's and is told when the
// card is back; RFC 1628 upsTestSpinLock starts at 1 again.
func TestTestEndsWhileTheCardIsDown(t *testing.T) {
	r := playtest.Start(t, fixed).To(min)
	r.Set(snap.Assignment{Var: snap.VarTestID, Int: 4}, snap.Assignment{Var: snap.VarTestSpinLock, Int: 1})
	r.To(min + sec).Ask(snap.OpRestart).To(5 * min)
	got := r.Site.Test
	if got.ID != snap.TestQuickBattery || got.Result != snap.ResultPass || got.Ended != min+10*sec || got.SpinLock != 1 {
		t.Errorf("%+v", got)
	}
	compare(t, sent(r, min+sec+ms), "0:01:14.999 warm_start", "0:01:14.999 test_completed")
	r.Ask(snap.OpRestart).To(10 * min)
	if n := r.Site.Sent[snap.NotifyTestCompleted]; n != 1 {
		t.Errorf("told %d times", n)
	}
	if r.Site.Test.Result != snap.ResultPass {
		t.Errorf("a further restart lost it: %+v", r.Site.Test)
	}
}

// TestAddress: the card comes to its address, or asks ever more rarely until a server
// is there; what is to be sent waits for it.
func TestAddress(t *testing.T) {
	r := playtest.Start(t, fixed)
	if a := r.Site.Card.Address; a.State != "fixed" || a.Prefix.String() != "192.0.2.10/24" {
		t.Errorf("fixed: %+v", a)
	}
	r = playtest.Start(t, site)
	if a := r.Site.Card.Address; a.State != "leased" || a.Prefix.String() != "192.0.2.10/24" || a.Gateway.String() != "192.0.2.1" {
		t.Errorf("leased: %+v", a)
	}
	r = playtest.Start(t, site+"[network]\ndhcp = \"absent\"\n").To(vtime.Hour)
	if a := r.Site.Card.Address; a.State != "searching" || a.Reachable() || len(r.Sent) != 0 {
		t.Errorf("no server: %+v, sent %v", a, r.Sent)
	}
	r.To(vtime.Hour + sec).Inject(`dhcp = "present"`).To(vtime.Hour + 2*min)
	if a := r.Site.Card.Address; a.State != "leased" {
		t.Errorf("the server came: %+v", a)
	}
	if n := sent(r, vtime.Hour); len(n) != 1 || r.SentAt[0] > vtime.Hour+66*sec { // RFC 2131 section 4.1: at most 64 s and one more
		t.Errorf("%v", n)
	}
	r = playtest.Start(t, site+"[network]\ndhcp = \"late\"\nlate = \"95s\"\n").To(130 * sec)
	if n := sent(r, 0); len(n) != 1 || r.SentAt[0] < 119*sec || r.SentAt[0] > 129*sec { // 4 + 8 + 16 + 32 + 64 s, each up to a second more or less
		t.Errorf("%v at %v", n, r.SentAt)
	}
}

// TestServerGone: a lease that is held stays; a card that restarts gets none.
func TestServerGone(t *testing.T) {
	r := playtest.Start(t, site).To(min).Inject(`dhcp = "absent"`).To(2 * min)
	if !r.Site.Card.Address.Reachable() {
		t.Error("the lease was lost with the server")
	}
	r.Ask(snap.OpRestart).To(vtime.Hour)
	if a := r.Site.Card.Address; a.State != "searching" {
		t.Errorf("%+v", a)
	}
}

// TestAuthFailure: RFC 3418 authenticationFailure, and snmpEnableAuthenTraps.
func TestAuthFailure(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Ask(snap.OpAuthFail).To(2 * min)
	compare(t, sent(r, min), "0:00:00.000 auth_failure")
	r.Write(snap.VarAuthenTraps, 2).Ask(snap.OpAuthFail).To(3 * min)
	if r.Site.Card.AuthenTraps || r.Site.Sent[snap.NotifyAuthFailure] != 1 {
		t.Error("sent although disabled")
	}
	for range 100 { // a scan is one notification in 5 s
		r.Write(snap.VarAuthenTraps, 1).Ask(snap.OpAuthFail)
	}
	r.To(4 * min)
	compare(t, sent(r, 3*min), "0:00:00.000 auth_failure", "0:00:05.000 auth_failure")
}

// TestSetSerialNo: RFC 3418 snmpSetSerialNo is a TestAndIncr.
func TestSetSerialNo(t *testing.T) {
	r := playtest.Start(t, fixed)
	if res := r.Set(snap.Assignment{Var: snap.VarSnmpSetSerialNo, Int: 7}); res.Status != snap.Inconsistent {
		t.Errorf("a wrong number: %+v", res)
	}
	if r.Write(snap.VarSnmpSetSerialNo, 1); r.Site.Card.SetSerialNo != 2 {
		t.Errorf("reads %d", r.Site.Card.SetSerialNo)
	}
}
