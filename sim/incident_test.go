package sim_test

import (
	"bytes"
	"context"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/bundle"
)

const incident = `title = "Two outages"
run_for = "12m"
[battery]
age_years = 2
[[host]]
name = "db"
draw_w = 500
[[host]]
name = "web"
draw_w = 200
[[at]]
time = "70s"
source = "lost"
[[at]]
time = "250s"
source = "normal"
[[at]]
time = "300s"
host = "web"
draw_w = 350
[[at]]
time = "403s"
source = { volts = 0, lasts = "97s" }
`

// site is the place of the incident, without knowing what happened there.
const incidentSite = `title = "The site"
run_for = "1m"
[battery]
age_years = 2
[[host]]
name = "all"
draw_w = 400
`

func parsed(t *testing.T, text string) *sim.Scenario {
	t.Helper()
	s, err := sim.Parse("site.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// exported is the bundle of a run.
func exported(t *testing.T, text string, interval time.Duration) string {
	t.Helper()
	var out bytes.Buffer
	if _, err := sim.Run(parsed(t, text), sim.RunOptions{Bundle: &out, Interval: interval}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "incident.bundle")
	if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestExportChangesNothing: a run is the same with a bundle, to the byte of its trace.
func TestExportChangesNothing(t *testing.T) {
	var with, without, out bytes.Buffer
	if _, err := sim.Run(parsed(t, incident), sim.RunOptions{Trace: &with, Bundle: &out}); err != nil {
		t.Fatal(err)
	}
	if _, err := sim.Run(parsed(t, incident), sim.RunOptions{Trace: &without}); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(with.Bytes(), without.Bytes()) {
		t.Error("the trace is another one")
	}
	b, err := bundle.Read(&out)
	if err != nil {
		t.Fatal(err)
	}
	traps := map[string]int{}
	for _, n := range b.Notices {
		traps[n.Trap.String()]++
	}
	if len(b.Readings) != 73 || b.Cut || traps[snap.NotifyOnBattery.OID()] < 2 || traps[snap.NotifyAlarmRemoved.OID()] < 2 {
		t.Errorf("%d readings, cut %v, notifications %v", len(b.Readings), b.Cut, traps)
	}
}

// TestReplaySource: a site that is put where the incident was comes to the same, within
// a reading; one with half of the battery does not.
func TestReplaySource(t *testing.T) {
	for _, interval := range []time.Duration{time.Second, 7 * time.Second, 10 * time.Second} {
		path := exported(t, incident, interval)
		tight := sim.SourceOptions{Limits: map[string]float64{"charge": 3, "runtime": 15, "battery_voltage": 1}}
		c, err := sim.ReplaySource(parsed(t, incidentSite), path, tight)
		if err != nil {
			t.Fatal(err)
		}
		var said strings.Builder
		c.Text(&said)
		if !c.Met() || len(c.Transitions) != 4 {
			t.Errorf("every %s:\n%s", interval, &said)
		}
		for _, x := range c.Transitions {
			if x.Model < x.After-interval || x.Model > x.Before+interval {
				t.Errorf("every %s: %s in the model at %s, in the record between %s and %s", interval, x.To, x.Model, x.After, x.Before)
			}
		}
		for _, q := range c.Quantities {
			if q.Readings < 20 {
				t.Errorf("every %s: %s compared in %d readings", interval, q.Name, q.Readings)
			}
		}
		other := parsed(t, strings.Replace(incidentSite, "age_years = 2", "age_years = 8", 1))
		if c, err = sim.ReplaySource(other, path, tight); err != nil || c.Met() {
			t.Errorf("every %s: an aged battery passes (%v)", interval, err)
		}
	}
}

// TestReplaySourceRefuses: what cannot drive anything, and what is no bundle.
func TestReplaySourceRefuses(t *testing.T) {
	path := exported(t, incident, 10*time.Second)
	idle := parsed(t, strings.Replace(incidentSite, "draw_w = 400", "draw_w = 0", 1))
	if _, err := sim.ReplaySource(idle, path, sim.SourceOptions{}); err == nil || !strings.Contains(err.Error(), "no host that draws anything") {
		t.Errorf("without a load: %v", err)
	}
	for _, text := range []string{"", "{}\n", `{"ridethrough_bundle":1,"start":"2026-03-02T07:55:00Z","interval_ms":1000,"snmp":"1","scrubbed":true}` + "\n"} {
		bad := filepath.Join(t.TempDir(), "bad")
		if err := os.WriteFile(bad, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := sim.ReplaySource(parsed(t, incidentSite), bad, sim.SourceOptions{}); err == nil || !strings.HasPrefix(err.Error(), bad) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// TestLoopCloses: what is recorded of a simulation that is played verbatim is what the
// simulation exported.
func TestLoopCloses(t *testing.T) {
	path := exported(t, incident, 5*time.Minute) // so that one reading is on throughout
	ctx, stop := context.WithCancel(t.Context())
	ready, says := net.Pipe()
	played := make(chan error, 1)
	go func() {
		_, err := sim.Verbatim(ctx, path, sim.VerbatimOptions{Ready: says})
		says.Close()
		played <- err
	}()
	var record struct {
		Endpoints struct{ SNMP string }
		Community string `json:"read_community"`
	}
	if err := json.NewDecoder(ready).Decode(&record); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "again")
	_, err := sim.Record(t.Context(), sim.RecordOptions{
		Agent: record.Endpoints.SNMP, Version: "2c", Credentials: sim.Credentials{"community": record.Community}, Out: out,
		NoScrub: true, Interval: time.Second, For: time.Second, Timeout: 5 * time.Second, Rate: 100,
		Also: []string{"1.3.6.1.2.1.11", "1.3.6.1.2.1.47.1.4", "1.3.6.1.6.3.1", "1.3.6.1.6.3.11", "1.3.6.1.6.3.12", "1.3.6.1.6.3.15", "1.3.6.1.4.1.32473.1"},
	})
	stop()
	if err := <-played; err != nil {
		t.Error(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	want, got := readBundleFile(t, path).Readings[0], readBundleFile(t, out).Readings[0]
	if len(got.Objects) != len(want.Objects) {
		for _, o := range want.Objects {
			if _, ok := got.Find(o.Name); !ok {
				t.Errorf("%s is not there", o.Name)
			}
		}
		t.Fatalf("%d objects, want %d", len(got.Objects), len(want.Objects))
	}
	for i, o := range got.Objects {
		if w := want.Objects[i]; !o.Name.Equal(w.Name) || !bundle.Same(o.Value, w.Value) {
			t.Errorf("%v, want %v", o, w)
		}
	}
}

func readBundleFile(t *testing.T, path string) *bundle.Bundle {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, err := bundle.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
