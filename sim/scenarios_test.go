package sim_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
)

var update = flag.Bool("update", false, "rewrite the golden traces")

// Every scenario of ours is met as it stands, to the byte of its golden trace,
// and every expectation of it is missed by one of its wrong variants.
func TestScenarios(t *testing.T) {
	for _, file := range checks.Scenarios(t) {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".toml"), func(t *testing.T) { checkScenario(t, file) })
	}
}

func checkScenario(t *testing.T, file string) {
	s, err := sim.Load(file)
	if err != nil {
		t.Fatal(err)
	}
	if s.Fleet() > 0 {
		checkFleet(t, s, file)
		return
	}
	var trace bytes.Buffer
	result, err := sim.Run(s, sim.RunOptions{Trace: &trace})
	if err != nil {
		if strings.Contains(err.Error(), "use serve") {
			t.Skip("its hosts are real processes: played by the scripts of cmd/ridethrough")
		}
		t.Fatal(err)
	}
	if !result.Met() {
		t.Errorf("missed as it stands: %q", result.Failed())
	}
	golden(t, filepath.Join("..", "testdata", "traces", filepath.Base(file)+".trace"), trace.Bytes())
	checkVariants(t, s, result)
}

// checkFleet is checkScenario for a fleet; the golden trace is that of device 1.
func checkFleet(t *testing.T, s *sim.Scenario, file string) {
	result, err := sim.RunFleet(s, sim.RunOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if !result.Met() || result.Devices() != s.Fleet() {
		t.Errorf("%d devices, missed as it stands: %q", result.Devices(), result.Failed())
	}
	one, err := s.Device(1)
	if err != nil {
		t.Fatal(err)
	}
	var trace bytes.Buffer
	alone, err := sim.Run(one, sim.RunOptions{Trace: &trace})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, filepath.Join("..", "testdata", "traces", filepath.Base(file)+".trace"), trace.Bytes())
	checkVariants(t, s, alone)
}

// failed is what s misses, as one site or as a fleet.
func failed(t *testing.T, s *sim.Scenario) []string {
	if s.Fleet() > 0 {
		result, err := sim.RunFleet(s, sim.RunOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return result.Failed()
	}
	result, err := sim.Run(s, sim.RunOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return result.Failed()
}

func checkVariants(t *testing.T, s *sim.Scenario, right *sim.Result) {
	variants, err := s.Variants()
	if err != nil || len(variants) == 0 {
		t.Fatalf("%d variants, %v", len(variants), err)
	}
	canFail := map[string]bool{}
	for _, v := range variants {
		wrong, err := s.With(sim.WithVariant(v.Name))
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]bool{}
		for _, name := range v.Misses {
			want[name], canFail[name] = true, true
		}
		got := map[string]bool{}
		for _, name := range failed(t, wrong) {
			got[name] = true
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("variant %s (-should miss +misses):\n%s", v.Name, diff)
		}
	}
	for _, v := range right.Verdicts {
		if !canFail[v.Name] {
			t.Errorf("no variant shows that %q can be missed", v.Name)
		}
	}
}

func golden(t *testing.T, path string, got []byte) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; -update writes it", err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(string(got), "\n")); diff != "" {
		t.Errorf("trace (-golden +got):\n%s", diff)
	}
}
