package checks_test

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
)

// unclaimed are the rows that no test uses, by beginning, with the reason.
func unclaimed() map[string]string {
	return map[string]string{
		"OCV-06": "flooded cells are not modelled", "OCV-07": "flooded cells are not modelled",
		"OCV-08": "flooded cells are not modelled", "OCV-09": "the rested voltage does not follow temperature",
		"EFF-11": "a requirement of a programme, not a result",
		"PWR-01": "a product", "PWR-05": "a quotient", "PWR-06": "a product", "PWR-09": "a product",
		"GEN-01": "a requirement of a standard, not a result", "GEN-02": "a requirement of a standard, not a result",
		"GEN-03": "a requirement of a standard, not a result",
		"SHD-03": "a share of the runtime; a budget takes a share of the capacity, which lasts less", "SHD-04": "a share of the runtime, as SHD-03",
		"SHD-10": "a rule that is shown to be wrong",
	}
}

// A check that nobody makes is worth nothing: every row is named in a test or
// in the list above.
func TestEveryRowIsUsed(t *testing.T) {
	table := checks.Load(t)
	if len(table) != 220 {
		t.Errorf("%d rows, want 220", len(table))
	}
	named := tests(t)
	for i := 1; i <= 28; i++ {
		named += fmt.Sprintf(`"TAB-%02d"`, i) // package fit makes these names
	}
	var missing []string
	for id := range table {
		if !strings.Contains(named, `"`+id+`"`) && !excused(id) {
			missing = append(missing, id)
		}
	}
	slices.Sort(missing)
	if len(missing) > 0 {
		t.Errorf("no test uses %v", missing)
	}
}

func excused(id string) bool {
	for beginning := range unclaimed() {
		if strings.HasPrefix(id, beginning) {
			return true
		}
	}
	return false
}

// tests is the text of all tests of the module but this one.
func tests(t *testing.T) string {
	t.Helper()
	var all strings.Builder
	err := filepath.WalkDir(checks.Path(t, "sim"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") || filepath.Base(filepath.Dir(path)) == "checks" {
			return err
		}
		text, err := os.ReadFile(path)
		all.Write(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}

func TestRowsSayWhereTheyAreFrom(t *testing.T) {
	for id, row := range checks.Load(t) {
		switch row.Provenance {
		case "seen", "memory", "derived", "common-practice":
		default:
			t.Errorf("%s: provenance %q", id, row.Provenance)
		}
		if row.Source == "" || row.Expected == "" || row.Unit == "" {
			t.Errorf("%s: %+v", id, row)
		}
	}
}
