package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// TestStopByHand: on mains it goes on although nothing is wrong, and stays off until
// somebody says, also with a start that the policy else arms.
func TestStopByHand(t *testing.T) {
	for name, extra := range map[string]string{"": "", "at once": "off_when = \"at-once\"\noff_delay = \"5m\"\n", "armed": "start_delay = \"30s\"\n", "cancel": "on_return = \"cancel\"\n"} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n"+extra).To(33 * sec).Inject(`policy = "stop"`).To(30 * min)
			if at := reached(r, "stopping: by hand"); at != 33*sec || r.Count("output: off") != 1 || r.Site.Policy != snap.PolicyRestarting {
				t.Fatalf("stopping at %v, %v\n%s", at, r.Site.Policy, r.Trace())
			}
			r.Inject(`policy = "start"`).To(60 * min)
			expectStates(t, r, "running running")
			if vm := host(t, r, "vm"); vm.Stops != 1 || vm.Starts != 1 || vm.Cuts != 0 || r.Site.Shutdowns != 1 {
				t.Errorf("%+v\n%s", vm, r.Trace())
			}
		})
	}
}

// TestOneShutdown: row 42 of the needs, one for an outage, by whatever it was begun and
// however often somebody says so.
func TestOneShutdown(t *testing.T) {
	for name, row := range map[string]struct {
		second vtime.Tick // when somebody says stop, after the loss of the mains at 0:05
	}{
		"before the trigger": {30}, "while hosts stop": {100}, "while it counts down": {260}, "off": {600},
	} {
		t.Run(name, func(t *testing.T) {
			src := managed + "on_battery_for = \"60s\"\noff_delay = \"60s\"\n"
			r := playtest.Start(t, src).To(5 * sec).Inject(lost)
			r.To(5*sec + sec*row.second).Inject(`policy = "stop"`).To(20 * min).Inject(normal).To(40 * min)
			if r.Site.Shutdowns != 1 || r.Site.Policy != snap.PolicyRestarting {
				t.Errorf("%d shutdowns, %v\n%s", r.Site.Shutdowns, r.Site.Policy, r.Trace())
			}
			r.Inject(`policy = "start"`).To(60 * min)
			expectStates(t, r, "running running")
			r.Inject(lost).To(70 * min) // armed again
			if r.Site.Shutdowns != 2 {
				t.Errorf("%d shutdowns in two outages", r.Site.Shutdowns)
			}
		})
	}
}

// TestStartByHandWhileStopping: the stop ends as one whose outage is over does.
func TestStartByHandWhileStopping(t *testing.T) {
	r := playtest.Start(t, managed+"on_battery_for = \"60s\"\n").Inject(`policy = "stop"`).To(30 * sec).Inject(`policy = "start"`).To(20 * min)
	expectStates(t, r, "running running")
	if r.Site.Shutdowns != 1 || r.Count("output: off") != 1 {
		t.Errorf("%d shutdowns\n%s", r.Site.Shutdowns, r.Trace())
	}
}

// TestTooWarm: above the limit the site stops once and stays off until somebody says. A
// probe that is lost triggers nothing.
func TestTooWarm(t *testing.T) {
	src := strings.Replace(managed, "[policy]", "[[probe]]\nname = \"inlet\"\nevery = \"5s\"\nlag = \"0s\"\n[policy]", 1) + "inlet_above_c = 40\ninlet_probe = \"inlet\"\nconfirm = 2\n"
	warm := `probe = { warm = "inlet", by_k = 30 }`
	r := playtest.Start(t, src).To(2 * min).Inject(warm).To(10 * min)
	at := reached(r, "stopping: the inlet is too warm")
	if at <= 2*min || at > 3*min || r.Site.Shutdowns != 1 || r.Site.Policy != snap.PolicyRestarting {
		t.Fatalf("at %v, %d shutdowns, %v\n%s", at, r.Site.Shutdowns, r.Site.Policy, r.Trace())
	}
	r.Inject(`policy = "start"`).To(15 * min)
	if r.Site.UPS.OutputOn {
		t.Error("on again while it is too warm")
	}
	r.Inject(`probe = { warm = "inlet", by_k = 0 }`).To(30 * min)
	expectStates(t, r, "running running")

	r = playtest.Start(t, src).To(min).Inject(`probe = { unplug = "inlet" }`).To(2 * min).Inject(warm).To(10 * min)
	if r.Site.Shutdowns != 0 {
		t.Errorf("by a lost probe\n%s", r.Trace())
	}
}
