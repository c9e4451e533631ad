package model

import (
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write docs/snmp.md anew")

const conformanceFile = "../../../../docs/snmp.md"

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
