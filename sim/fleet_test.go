package sim_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ridethrough/sim"
)

// A small fleet of two files: with a train of dips, whose times are drawn, so
// that two devices differ.
const (
	fleetText = `
title = "Five devices"
run_for = "20m"
seed = 3
[fleet]
count = 3
scenarios = [{ file = "other.toml", count = 2 }]
[[host]]
name = "db"
draw_w = 200
[[at]]
time = "1m"
source = { sag_pct = 0, count = 5, lasts = "100ms", lasts_up_to = "30s", every = "1m", jitter = "40s" }
[[at]]
time = "10m"
devices = "2"
source = "lost"
[[expect]]
name = "never on battery in the end"
that = "not ups.on_battery"
at = "end"
`
	otherText = `
title = "Two more"
run_for = "5m"
[[expect]]
name = "on mains"
that = "ups.on_battery"
never = true
`
)

func fleetFile(t *testing.T, files ...string) *sim.Scenario {
	t.Helper()
	dir := t.TempDir()
	for i, text := range append([]string{fleetText, otherText}[len(files):], files...) {
		name := []string{"fleet.toml", "other.toml"}[i]
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	s, err := sim.Load(filepath.Join(dir, "fleet.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestRunFleetAddsUp(t *testing.T) {
	s := fleetFile(t)
	result, err := sim.RunFleet(s, sim.RunOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Fleet() != 5 || result.Devices() != 5 || result.Met() || fmt.Sprint(result.Failed()) != "[never on battery in the end]" {
		t.Errorf("%d of %d devices, failed %q", result.Devices(), s.Fleet(), result.Failed())
	}
	var text bytes.Buffer
	if err := result.Text(&text); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"of fleet.toml: met by 2, missed by 1, not reached by 0", "device 2: missed: ", "of other.toml: met by 2"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("no %q in\n%s", want, text.String())
		}
	}
	want := map[string]int{}
	for n := 1; n <= 5; n++ {
		for kind, sent := range runDevice(t, s, n, nil).Notifications {
			want[kind] += sent
		}
	}
	if got := result.Notifications(); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("notifications %v, of the devices alone %v", got, want)
	}
}

func runDevice(t *testing.T, s *sim.Scenario, n int, trace *bytes.Buffer) *sim.Result {
	t.Helper()
	one, err := s.Device(n)
	if err != nil {
		t.Fatal(err)
	}
	opts := sim.RunOptions{}
	if trace != nil {
		opts.Trace = trace
	}
	result, err := sim.Run(one, opts)
	if err != nil {
		t.Fatal(err)
	}
	return result
}

// Each device has dice of its own, and comes to the same again.
func TestDevicesDiffer(t *testing.T) {
	s := fleetFile(t)
	var traces [3]bytes.Buffer
	runDevice(t, s, 1, &traces[0])
	runDevice(t, s, 3, &traces[1])
	runDevice(t, s, 1, &traces[2])
	if bytes.Equal(traces[0].Bytes(), traces[1].Bytes()) {
		t.Error("two devices have the same dips")
	}
	if !bytes.Equal(traces[0].Bytes(), traces[2].Bytes()) {
		t.Error("the same device came to something else")
	}
}

func TestFleetIsRefusedWhereOneSiteIsPlayed(t *testing.T) {
	s := fleetFile(t)
	var invalid *sim.InvalidError
	if _, err := sim.Run(s, sim.RunOptions{}); !errors.As(err, &invalid) || !strings.HasSuffix(err.Error(), "it is a fleet of 5 devices, not one site") {
		t.Errorf("run: %v", err)
	}
	if _, err := sim.Serve(t.Context(), s, sim.ServeOptions{}); !errors.As(err, &invalid) {
		t.Errorf("serve: %v", err)
	}
	if _, err := s.Device(6); !errors.As(err, &invalid) || !strings.HasSuffix(err.Error(), "there is no device 6; expected 1 to 5") {
		t.Errorf("device: %v", err)
	}
}

func TestFilesOfAFleetAreChecked(t *testing.T) {
	for _, c := range []struct{ other, want string }{
		{fleetText, "fleet.toml:7:23: other.toml is a fleet itself; expected the scenario of one site"},
		{otherText + "[[host]]\nname='x'\ndraw_w=1\nprocess=['a']\n", "fleet.toml:7:23: other.toml has a host that is a real process; expected modelled hosts"},
		{otherText + "[[unit]]\nname='b'\n[[group]]\nname='a'\n", "fleet.toml:7:23: other.toml has more than one unit; expected a site of one"},
		{"title = 3", "other.toml:1:9: title is the number 3; expected text of 1 to 200 characters"},
	} {
		err := fleetFile(t, fleetText, c.other).CheckFleet()
		if err == nil || !strings.HasSuffix(err.Error(), c.want) {
			t.Errorf("got  %v\nwant %s", err, c.want)
		}
	}
}
