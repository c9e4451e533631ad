package checks

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Row is one check. Expected and Tolerance keep the text of the file: some rows
// expect a word.
type Row struct {
	ID, Quantity, Inputs, Expected, Unit, Tolerance, Source, Provenance string
}

// Table is the whole file by identifier.
type Table map[string]Row

// Load reads testdata/checks.csv from the module that the test runs in.
func Load(t testing.TB) Table {
	t.Helper()
	f, err := os.Open(Path(t, "testdata", "checks.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	table := Table{}
	for _, r := range records[1:] {
		table[r[0]] = Row{r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7]}
	}
	return table
}

// Scenarios are the files of the scenarios that come with the program.
func Scenarios(t testing.TB) []string {
	t.Helper()
	var files []string
	err := filepath.WalkDir(Path(t, "scenarios"), func(path string, d fs.DirEntry, err error) error {
		if err == nil && filepath.Ext(path) == ".toml" {
			files = append(files, path)
		}
		return err
	})
	if err != nil || len(files) == 0 {
		t.Fatalf("%d scenarios, %v", len(files), err)
	}
	return files
}

// Path joins elem to the module's root, which is the nearest folder above the
// test that holds a go.mod.
func Path(t testing.TB, elem ...string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		_, err := os.Stat(filepath.Join(dir, "go.mod"))
		if err == nil {
			return filepath.Join(append([]string{dir}, elem...)...)
		}
		if up := filepath.Dir(dir); errors.Is(err, fs.ErrNotExist) && up != dir {
			dir = up
			continue
		}
		t.Fatal(err)
	}
}

// Number compares got with the expected number of row id.
func (c Table) Number(t testing.TB, id string, got float64) {
	t.Helper()
	c.compare(t, id, got, -1)
}

// Within compares got with the expected number of row id under a tolerance of
// the test's own, in the row's unit: the comment at the call says why.
func (c Table) Within(t testing.TB, id string, got, tolerance float64) {
	t.Helper()
	c.compare(t, id, got, tolerance)
}

// compare takes the row's tolerance if own is negative.
func (c Table) compare(t testing.TB, id string, got, own float64) {
	t.Helper()
	row, ok := c[id]
	if !ok {
		t.Errorf("%s: no such row", id)
		return
	}
	want, tolerance, err := row.numbers()
	if err != nil {
		t.Errorf("%s: %v", id, err)
		return
	}
	if own >= 0 {
		tolerance = own
	}
	if !(math.Abs(got-want) <= tolerance+1e-9*math.Abs(want)) {
		t.Errorf("%s: %s: got %.6g, want %s %s within %.3g (%s)",
			id, row.Quantity, got, row.Expected, row.Unit, tolerance, row.Source)
	}
}

// Word compares got with the expected text of row id.
func (c Table) Word(t testing.TB, id, got string) {
	t.Helper()
	row, ok := c[id]
	if !ok {
		t.Errorf("%s: no such row", id)
		return
	}
	if got != row.Expected {
		t.Errorf("%s: %s, %s: got %q, want %q (%s)", id, row.Quantity, row.Inputs, got, row.Expected, row.Source)
	}
}

// numbers are the expected value and the tolerance in its unit. A tolerance may
// be a share of the value, as in "0.1 %".
func (r Row) numbers() (want, tolerance float64, err error) {
	want, err = strconv.ParseFloat(r.Expected, 64)
	if err != nil {
		return 0, 0, fmt.Errorf("expected %q is not a number", r.Expected)
	}
	text, share := strings.CutSuffix(r.Tolerance, " %")
	tolerance, err = strconv.ParseFloat(text, 64)
	if err != nil {
		return 0, 0, fmt.Errorf("tolerance %q is not a number", r.Tolerance)
	}
	if share {
		tolerance *= math.Abs(want) / 100
	}
	return want, tolerance, nil
}
