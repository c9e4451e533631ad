package sim_test

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim"
)

func table(name string) string { return filepath.Join("..", "testdata", "tables", name) }

func TestFit(t *testing.T) {
	f, err := sim.Fit(table("usf12-100a_12v100ah.csv"), sim.FitOptions{Name: "front \"terminal\"\x1b[2J"})
	if err != nil {
		t.Fatal(err)
	}
	if f.CapacityAh < 108 || f.CapacityAh > 116 || f.MedianPct > 0.6 || f.WorstPct > 3.4 || len(f.Notes) < 4 {
		t.Errorf("%.1f Ah, errors %.1f and %.1f %%, %d notes", f.CapacityAh, f.MedianPct, f.WorstPct, len(f.Notes))
	}
	fitted := 0
	for _, r := range f.Rows {
		if r.Fitted != (r.EndV < 1.81) {
			t.Errorf("to %v V: fitted %v", r.EndV, r.Fitted)
		}
		if r.Fitted {
			fitted++
		}
		if want := 100 * (r.ModelMinutes/r.Minutes - 1); math.Abs(r.ErrorPct-want) > 1e-9 {
			t.Errorf("line %d: error %v, %v min for %v", r.Line, r.ErrorPct, r.ModelMinutes, r.Minutes)
		}
	}
	if fitted != 140 || len(f.Rows) != 168 {
		t.Errorf("%d of %d rows were fitted", fitted, len(f.Rows))
	}
	// Its lines make a scenario, whatever the name.
	if _, err := sim.Parse("made.toml", []byte("title = 'x'\nrun_for = '1m'\n"+f.Scenario())); err != nil {
		t.Errorf("%v in\n%s", err, f.Scenario())
	}
	var text bytes.Buffer
	if err := f.Text(&text); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(text.String(), "\x1b") {
		t.Error("an escape sequence reaches the terminal")
	}
	for _, format := range []string{"svg", "png"} {
		var chart bytes.Buffer
		if err := f.Chart().Write(&chart, format); err != nil || chart.Len() < 5000 {
			t.Errorf("%s: %d bytes, %v", format, chart.Len(), err)
		}
	}
}

// What a table does not say errs as what it says beside it. The row left out here
// is of a column that lies off as a whole.
func TestFitAnswers(t *testing.T) {
	text, err := os.ReadFile(table("xlt12-7_12v7ah.csv"))
	if err != nil {
		t.Fatal(err)
	}
	const row = "CP,1.65,120,4.48,W_cell\n"
	if !strings.Contains(string(text), row) {
		t.Fatal("the row is gone")
	}
	path := filepath.Join(t.TempDir(), "table.csv")
	if err := os.WriteFile(path, []byte(strings.Replace(string(text), row, "", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	f, err := sim.Fit(path, sim.FitOptions{Ask: []sim.Asked{{Mode: "CP", EndV: 1.65, Load: 4.48}, {Mode: "CC", EndV: 1.70, Load: 900}}})
	if err != nil {
		t.Fatal(err)
	}
	if a := f.Asked[0]; math.Abs(a.Minutes/120-1) > 0.7*math.Abs(a.ModelMinutes/120-1) {
		t.Errorf("%+v, the table has 120 min", a)
	}
	if a := f.Asked[1]; a.Minutes != 0 || a.ModelMinutes != 0 {
		t.Errorf("%+v", a)
	}
	var out, doc bytes.Buffer
	if err := errors.Join(f.Text(&out), f.JSON(&doc)); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "4.48 W a cell to 1.65 V") || !strings.Contains(out.String(), "cannot be carried") {
		t.Error(out.String())
	}
	if !strings.Contains(doc.String(), `"asked"`) {
		t.Error(doc.String())
	}
}

func TestFitRefuses(t *testing.T) {
	const head = "mode,end_v_per_cell,minutes,value,unit\n"
	for _, c := range []struct {
		name, text string
		opts       sim.FitOptions
		line       int
		want       string
	}{
		{"slip", head + "CC,1.75,60,3.9,A_block\nCC,1.75,90,3.9,A_block\n", sim.FitOptions{}, 3, "is not less than 3.9 A for 60 min in line 2"},
		{"unit", head + "CC,1.75,60,3.9,W\n", sim.FitOptions{}, 2, `unit "W" does not go with mode CC`},
		{"end voltages", head + "CC,1.9,60,3.9,A_block\n", sim.FitOptions{}, 0, "only lead-acid"},
		{"capacity", head + "CC,1.75,60,3.9,A_block\n", sim.FitOptions{CapacityAh: -1}, 0, "a 20-hour capacity of -1 Ah"},
		{"cells", head + "CC,1.75,60,3.9,A_block\n", sim.FitOptions{Cells: -6}, 0, "at least one cell"},
		{"nothing", "", sim.FitOptions{}, 0, "no rows"},
	} {
		path := filepath.Join(t.TempDir(), "t.csv")
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := sim.Fit(path, c.opts)
		var invalid *sim.InvalidError
		if !errors.As(err, &invalid) || invalid.Line != c.line || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	var io *sim.IOError
	if _, err := sim.Fit("nosuch.csv", sim.FitOptions{}); !errors.As(err, &io) {
		t.Errorf("no file: %v", err)
	}
}

func TestVariations(t *testing.T) {
	s := parse(t, strings.Replace(outage, `source = "lost"`, `source = { sag_pct = 60, lasts = "300ms" }`, 1))
	list, chart, err := sim.Variations(s, sim.RunOptions{})
	if err != nil {
		t.Fatal(err)
	}
	want := []sim.Variation{{StartMS: 30_000, EndMS: 30_300, VoltagePct: 60, Class: "instantaneous sag"}}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
	if diff := cmp.Diff(want, list, near); diff != "" {
		t.Error(diff)
	}
	var svg bytes.Buffer
	if err := chart.Write(&svg, "svg"); err != nil || !strings.Contains(svg.String(), "instantaneous sag to 60 %, 300 ms") {
		t.Errorf("%v, %d bytes", err, svg.Len())
	}
	if err := chart.Write(&svg, "pdf"); err == nil {
		t.Error("a format that nobody knows is written")
	}
}

func TestVariationsUntilTheEnd(t *testing.T) {
	list, _, err := sim.Variations(parse(t, outage), sim.RunOptions{})
	want := []sim.Variation{{StartMS: 30_000, EndMS: 120_000, Open: true, Class: "sustained interruption"}}
	if diff := cmp.Diff(want, list); err != nil || diff != "" {
		t.Error(err, diff)
	}
	done := make(chan struct{})
	close(done)
	if list, _, err := sim.Variations(parse(t, outage), sim.RunOptions{Done: done}); err != nil || len(list) != 0 {
		t.Errorf("ended at once: %v, %v", list, err)
	}
}

func TestDischargeChart(t *testing.T) {
	for _, name := range sim.Blocks() {
		if _, err := sim.DischargeChart(name); err != nil {
			t.Error(err)
		}
	}
	var invalid *sim.InvalidError
	if _, err := sim.DischargeChart("agm-12v-9"); !errors.As(err, &invalid) || !strings.Contains(err.Error(), `did you mean "agm-12v-9ah"?`) {
		t.Errorf("%v", err)
	}
}
