package fit_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/fit"
)

const small = `# a block of our own
# provenance: invented for this test

mode,end_v_per_cell,minutes,value,unit
CC,1.75,60,3.9,A_block
CP,1.75,15,19.3,W_cell
CP,1.80,15,115.8,W_block
`

func TestRead(t *testing.T) {
	got, err := fit.Read(strings.NewReader(small), 6)
	if err != nil {
		t.Fatal(err)
	}
	want := fit.Table{
		Notes: []string{"a block of our own", "provenance: invented for this test"},
		Rows: []fit.Row{
			{Mode: fit.ConstantCurrent, EndV: 1.75, Minutes: 60, Load: 3.9, Line: 5},
			{Mode: fit.ConstantPower, EndV: 1.75, Minutes: 15, Load: 19.3, Line: 6},
			{Mode: fit.ConstantPower, EndV: 1.80, Minutes: 15, Load: 115.8 / 6, Line: 7},
		},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

func TestReadNamesTheLine(t *testing.T) {
	const head = "mode,end_v_per_cell,minutes,value,unit\n"
	for _, c := range []struct{ name, text, want string }{
		{"no column names", "CC,1.75,60,3.9,A_block\n", "line 1: want the column names mode,end_v_per_cell,minutes,value,unit, or for a recorded discharge the block that it is of (--base)"},
		{"few columns", head + "CC,1.75,60,3.9\n", "line 2: 4 columns, want 5"},
		{"mode", head + "# note\nXX,1.75,60,3.9,A_block\n", `line 3: mode "XX" is neither CC nor CP`},
		{"number", head + "CC,1.75,-60,3.9,A_block\n", `line 2: "-60" is not a positive number`},
		{"not a number", head + "CC,NaN,60,3.9,A_block\n", `line 2: "NaN" is not a positive number`},
		{"unit", head + "CC,1.75,60,3.9,W_cell\n", `line 2: unit "W_cell" does not go with mode CC`},
		{"empty", "", "the table has no rows"},
		{"no rows", head, "the table has no rows"},
		{"long line", head + strings.Repeat("x", 5000), "line 2: is longer than 4096 octets"},
	} {
		_, err := fit.Read(strings.NewReader(c.text), 6)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	if _, err := fit.Read(strings.NewReader(small), 0); err == nil {
		t.Error("a block without cells is read")
	}
}

func FuzzRead(f *testing.F) {
	f.Add(small, 6)
	f.Add("mode,end_v_per_cell,minutes,value,unit\nCP,1.75,15,1e308,W_block\n", 1)
	f.Fuzz(func(t *testing.T, text string, cells int) {
		table, err := fit.Read(strings.NewReader(text), cells)
		if (err == nil) == (len(table.Rows) == 0) {
			t.Fatalf("%d rows, error %v", len(table.Rows), err)
		}
		var line *fit.LineError
		if err := fit.Monotone(table.Rows); err != nil && (!errors.As(err, &line) || line.Line < 2) {
			t.Fatal(err)
		}
		for _, r := range table.Rows {
			if !(r.EndV > 0 && r.Minutes > 0 && r.Load > 0) {
				t.Fatalf("row %+v", r)
			}
		}
	})
}

func TestTwelvePointsOfAFullTable(t *testing.T) {
	var rows []fit.Row
	for _, endV := range []float64{1.6, 1.7, 1.75, 1.8} {
		for _, minutes := range []float64{5, 10, 15, 20, 30, 45, 60, 120, 180, 300, 480, 600, 1200} {
			rows = append(rows, fit.Row{EndV: endV, Minutes: minutes, Load: 100 / minutes})
		}
	}
	type key struct{ endV, minutes float64 }
	var got []key
	points := fit.TwelvePoints(rows)
	for _, r := range points {
		got = append(got, key{r.EndV, r.Minutes})
	}
	want := []key{
		{1.75, 5}, {1.75, 10}, {1.75, 20}, {1.75, 45}, {1.75, 120}, {1.75, 480}, {1.75, 1200},
		{1.6, 5}, {1.6, 30}, {1.6, 180}, {1.8, 15}, {1.8, 60},
	}
	if d := cmp.Diff(want, got, cmp.AllowUnexported(key{})); d != "" {
		t.Error(d)
	}
	if rest := fit.Without(rows, points); len(rest) != len(rows)-12 {
		t.Errorf("%d rows are left of %d", len(rest), len(rows))
	}
	if got := fit.TwelvePoints(rows[:1]); len(got) != 1 {
		t.Errorf("one row gives %d points", len(got))
	}
}
