package model

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/checks"
)

var update = flag.Bool("update", false, "write docs/snmp.md anew")

const (
	conformanceFile = "../../../../docs/snmp.md"
	moduleFile      = "../../../../docs/RIDETHROUGH-MIB.txt"
)

// TestConformance fails when docs/snmp.md is not what the table says.
func TestConformance(t *testing.T) {
	want := Conformance()
	if *update {
		if err := os.WriteFile(conformanceFile, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(conformanceFile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("docs/snmp.md has drifted; run with -update (-want +got):\n%s", diff)
	}
}

// TestModule fails when docs/RIDETHROUGH-MIB.txt is not what the table says.
func TestModule(t *testing.T) {
	want := Module()
	if *update {
		if err := os.WriteFile(moduleFile, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(moduleFile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("docs/RIDETHROUGH-MIB.txt has drifted; run with -update (-want +got):\n%s", diff)
	}
	for _, x := range All() {
		if ours := x.OID.HasPrefix(ownMIB); ours != strings.Contains(want, "\n"+x.Name+" OBJECT-TYPE\n") {
			t.Errorf("%s: of our own: %v", x.Name, ours)
		}
	}
}

// TestModuleIsClean has the checker of another project read the module at its
// strictest.
func TestModuleIsClean(t *testing.T) {
	path := checks.Program(t, "smilint")
	smi, err := filepath.Abs("../../../../testdata/smi")
	if err != nil {
		t.Fatal(err)
	}
	lint := func(file string) string {
		cmd := exec.Command(path, "-l", "9", file)
		cmd.Env = append(os.Environ(), "SMIPATH="+smi)
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		return string(out)
	}
	if out := lint(moduleFile); out != "" {
		t.Error(out)
	}
	broken := filepath.Join(t.TempDir(), "broken.txt")
	text := strings.Replace(Module(), "{ rtProbeEntry 5 }", "{ rtProbeEntry 4 }", 1)
	if err := os.WriteFile(broken, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if lint(broken) == "" {
		t.Error("the checker passes what is wrong")
	}
}

// TestConformanceIsWhole: every variable stands in it once, and no line was left
// to be replaced.
func TestConformanceIsWhole(t *testing.T) {
	text := Conformance()
	for _, x := range All() {
		if n := strings.Count(text, "\n| "+x.Name+" | "); n != 1 {
			t.Errorf("%s stands there %d times", x.Name, n)
		}
	}
	if strings.Contains(text, "{{") {
		t.Error("a part is missing")
	}
}
