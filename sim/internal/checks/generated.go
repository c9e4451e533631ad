package checks

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

var number = regexp.MustCompile(`-?\d+(?:\.\d+)?`)

// Generated fails unless the file at path says the same as got, whose numbers
// may differ by tolerance: drawings and fits come out a last digit different on
// another kind of machine. With update it writes the file.
func Generated(t testing.TB, path, got string, tolerance float64, update bool) {
	t.Helper()
	if update {
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if where := Differ(string(want), got, tolerance); where != "" {
		t.Errorf("%s has drifted, go test -update rewrites it: %s", filepath.Base(path), where)
	}
}

// Differ says where two texts differ by more than tolerance in a number or by
// anything else, "" if nowhere.
func Differ(want, got string, tolerance float64) string {
	words, others := number.Split(want, -1), number.Split(got, -1)
	for i := range min(len(words), len(others)) {
		if words[i] != others[i] {
			return fmt.Sprintf("%q stands where %q stood", others[i], words[i])
		}
	}
	if len(words) != len(others) {
		return fmt.Sprintf("it has %d numbers, had %d", len(others)-1, len(words)-1)
	}
	before, now := number.FindAllString(want, -1), number.FindAllString(got, -1)
	for i := range before {
		x, _ := strconv.ParseFloat(before[i], 64)
		y, _ := strconv.ParseFloat(now[i], 64)
		if math.Abs(x-y) > tolerance {
			return fmt.Sprintf("number %d after %q is %s, was %s", i+1, words[i], now[i], before[i])
		}
	}
	return ""
}
