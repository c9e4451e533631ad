package snap

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestWellKnownAlarms: the arcs of RFC 1628 upsWellKnownAlarms, upsMIB 6.3.
func TestWellKnownAlarms(t *testing.T) {
	want := strings.Fields(`battery_bad on_battery low_battery depleted_battery temp_bad input_bad output_bad
		output_overload on_bypass bypass_bad output_off_as_requested ups_off_as_requested charger_failed ups_output_off
		ups_system_off fan_failure fuse_failure general_fault diagnostic_test_failed communications_lost awaiting_power
		shutdown_pending shutdown_imminent test_in_progress`)
	if len(want) != 24 || AlarmKinds != 25 {
		t.Fatalf("%d alarms, size %d", len(want), AlarmKinds)
	}
	for i, name := range want {
		k := AlarmKind(i + 1)
		if k.String() != name || AlarmByName(name) != k {
			t.Errorf("arc %d: %q, by name %d", k, k, AlarmByName(name))
		}
	}
	for _, name := range []string{"", "unknown", "On_Battery"} {
		if k := AlarmByName(name); k != 0 {
			t.Errorf("%q is alarm %d", name, k)
		}
	}
}

// TestNumbersOfTheStandard: RFC 1628 upsOutputSource, upsBatteryStatus,
// upsTestResultsSummary, upsConfigAudibleStatus, upsWellKnownTests, upsTraps.
func TestNumbersOfTheStandard(t *testing.T) {
	for name, row := range map[string]struct{ got, want string }{
		"source":  {words(SourceOther, SourceReducer), "1 other 2 none 3 normal 4 bypass 5 battery 6 booster 7 reducer"},
		"battery": {words(BatteryUnknown, BatteryDepleted), "1 unknown 2 normal 3 low 4 depleted"},
		"result":  {words(ResultPass, ResultNone), "1 pass 2 warning 3 error 4 aborted 5 in-progress 6 none"},
		"test":    {words(TestNone, TestDeepCalibration), "1 none 2 abort 3 general-systems 4 quick-battery 5 deep-calibration"},
		"notify": {words(NotifyOnBattery, NotifyRisen),
			"1 on_battery 2 test_completed 3 alarm_added 4 alarm_removed 5 cold_start 6 warm_start 7 auth_failure " +
				"8 link_down 9 link_up 10 group_switched 11 probe_alert 12 probe_better 13 contact_changed 14 test_message 15 warning_lasts"},
		"host":    {words(HostOff, HostCut), "0 off 1 booting 2 running 3 stopping 4 stopped 5 cut"},
		"card":    {words(CardOff, CardHung), "0 off 1 booting 2 running 3 absent 4 hung"},
		"channel": {words(ChannelWorks, ChannelExpired), "0 works 1 refuses 2 rejects-credentials 3 accepts-and-does-nothing 4 certificate-expired"},
		"policy":  {words(PolicyWatching, PolicyRestarting), "0 watching 1 confirming 2 stopping 3 off-ordered 4 restarting"},
	} {
		if row.got != row.want {
			t.Errorf("%s: %s, want %s", name, row.got, row.want)
		}
	}
	if AudibleDisabled != 1 || AudibleEnabled != 2 || AudibleMuted != 3 {
		t.Error("audible")
	}
	if s := OutputSource(8).String() + HostState(99).String() + TestKind(0).String(); s != "unknownunknownunknown" {
		t.Error(s)
	}
}

func words[T interface {
	~uint8
	String() string
}](first, last T) string {
	var list []string
	for v := first; v <= last; v++ {
		list = append(list, fmt.Sprintf("%d %v", v, v))
	}
	return strings.Join(list, " ")
}

func TestAlarmsHas(t *testing.T) {
	a := Alarms{Count: 1}
	a.Rows[0].Kind, a.Rows[1].Kind = AlarmInputBad, AlarmFanFailure // the second row is not there
	if !a.Has(AlarmInputBad) || a.Has(AlarmFanFailure) || a.Has(0) {
		t.Error("rows behind the count are counted")
	}
}

// TestSignIn: only the right password of a known user opens.
func TestSignIn(t *testing.T) {
	c := &Card{Accounts: []Account{NewAccount("technician", Viewer, "one", []byte("salt")), NewAccount("second", Operator, "two", []byte("pepper"))}}
	for _, row := range []struct {
		user, password string
		opens          bool
	}{
		{"technician", "one", true}, {"second", "two", true}, {"technician", "two", false}, {"second", "one", false},
		{"technician", "", false}, {"", "", false}, {"nobody", "one", false}, {"Technician", "one", false},
	} {
		if c.SignIn(row.user, row.password) != row.opens {
			t.Errorf("%q with %q opens: %v", row.user, row.password, !row.opens)
		}
	}
	if (&Card{}).SignIn("", "") {
		t.Error("a card without accounts opens")
	}
	rapid.Check(t, func(t *rapid.T) {
		password := rapid.String().Draw(t, "password")
		if password != "one" && c.SignIn("technician", password) {
			t.Fatalf("%q opens", password)
		}
	})
}

// TestVerifierKeepsNoPassword: equal passwords give different verifiers.
func TestVerifierKeepsNoPassword(t *testing.T) {
	a, b := NewAccount("a", Viewer, "secret", []byte("salt 1")), NewAccount("b", Viewer, "secret", []byte("salt 2"))
	if string(a.made()) == string(b.made()) || len(a.made()) != 32 || strings.Contains(string(a.made()), "secret") {
		t.Error("the verifier gives the password away")
	}
}
