package fit_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/phys/battery"
)

func read(t testing.TB, name string) fit.Table {
	t.Helper()
	f, err := os.Open(checks.Path(t, "testdata", "tables", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	table, err := fit.Read(f, 6)
	if err != nil {
		t.Fatal(name, err)
	}
	return table
}

// block is a table of testdata, the 20-hour capacity that its fit starts from,
// and the errors in percent that a first implementation of the same procedure
// reached (derived): of all rows fitted, and of the rows that twelve points
// predict.
type block struct {
	file           string
	c20            float64
	full, twelve   fit.Summary
	predictedCells int
}

func blocks() []block {
	return []block{
		{"xlt12-7_12v7ah.csv", 6.86, fit.Summary{1.9, 4.7, 12.7}, fit.Summary{1.9, 4.6, 7.3}, 63},
		{"usl12-7_12v7.2ah.csv", 7.72, fit.Summary{1.4, 4.3, 6.9}, fit.Summary{1.5, 3.7, 6.2}, 63},
		{"up-pw1245_12v7.8ah.csv", 7.95, fit.Summary{1.9, 5.1, 8.7}, fit.Summary{2.1, 5.6, 9.9}, 68},
		{"sw12140e_12v14ah.csv", 13.3, fit.Summary{3.7, 9.4, 14.7}, fit.Summary{1.5, 8.5, 15.7}, 25},
		{"ps12170_12v17ah.csv", 17.2, fit.Summary{1.6, 3.3, 5.6}, fit.Summary{2.4, 5.0, 6.5}, 49},
		{"usl12-20_12v20ah.csv", 20.8, fit.Summary{2.1, 5.7, 10.3}, fit.Summary{2.1, 5.7, 8.1}, 59},
		{"gp12400_12v40ah_cc.csv", 48.6, fit.Summary{1.1, 3.4, 5.8}, fit.Summary{1.7, 3.7, 4.0}, 29},
		{"upbh62ft_12v62ah.csv", 66.6, fit.Summary{1.9, 5.1, 8.6}, fit.Summary{2.3, 5.9, 11.1}, 54},
		{"ep65-12_12v65ah_cp.csv", 65, fit.Summary{0.8, 2.5, 3.6}, fit.Summary{2.7, 4.8, 5.4}, 9},
		{"usc12-100_12v100ah.csv", 103.8, fit.Summary{1.4, 3.3, 8.2}, fit.Summary{2.1, 5.0, 8.9}, 59},
		{"ct100-12_12v100ah_cc.csv", 104, fit.Summary{2.1, 3.2, 4.8}, fit.Summary{1.9, 4.3, 5.2}, 15},
		{"usf12-100a_12v100ah.csv", 111.6, fit.Summary{0.5, 1.2, 3.3}, fit.Summary{0.8, 1.7, 3.3}, 59},
		{"cb12-115_12v115ah.csv", 115, fit.Summary{2.8, 6.0, 11.8}, fit.Summary{2.0, 7.9, 8.6}, 14},
		{"upbh150ft_12v150ah.csv", 161.4, fit.Summary{0.9, 2.3, 6.1}, fit.Summary{1.3, 2.3, 3.3}, 54},
		{"upbh190ft_12v190ah.csv", 202, fit.Summary{0.9, 4.1, 8.5}, fit.Summary{1.7, 5.5, 7.3}, 54},
		{"hc1228w_12v_highrate_cc.csv", 7, fit.Summary{1.2, 3.2, 3.9}, fit.Summary{6.0, 57, 100}, 24},
	}
}

// usual are the rows with end voltages of 1.60 to 1.80 V; of power if the table
// has them.
func usual(table fit.Table) []fit.Row {
	if rows := fit.Of(table.Rows, fit.ConstantPower, 1.6, 1.8); len(rows) >= 12 {
		return rows
	}
	return fit.Of(table.Rows, fit.ConstantCurrent, 1.6, 1.8)
}

func pct(s fit.Summary) fit.Summary {
	return fit.Summary{Median: 100 * s.Median, P90: 100 * s.P90, Worst: 100 * s.Worst}
}

// rounding is that of the figures that a summary is compared with.
const rounding = 0.05

// The whole tables were fitted as well by that first implementation, half a
// point apart: it took other steps in time.
func TestWholeTables(t *testing.T) {
	for _, b := range blocks() {
		t.Run(b.file, func(t *testing.T) {
			got := pct(fit.Summarise(whole(t, b).Residuals))
			t.Logf("%.1f, was %v", got, b.full)
			if got.Median > b.full.Median+0.3 || got.P90 > b.full.P90+0.5 || got.Worst > b.full.Worst+0.5 {
				t.Errorf("%.2f, was %v", got, b.full)
			}
		})
	}
}

// Fits take a while and several tests look at them.
var (
	wholeFits   = map[string]fit.Result{}
	twelveFits  = map[string]fit.Result{}
	predictions = map[string][]fit.Residual{}
)

func whole(t testing.TB, b block) fit.Result {
	t.Helper()
	if r, ok := wholeFits[b.file]; ok {
		return r
	}
	table := read(t, b.file)
	rows := append(fit.Of(table.Rows, fit.ConstantCurrent, 1.6, 1.8), fit.Of(table.Rows, fit.ConstantPower, 1.6, 1.8)...)
	r, err := fit.Fit(rows, b.c20, fit.Population(0.02))
	if err != nil {
		t.Fatal(err)
	}
	wholeFits[b.file] = r
	return r
}

// predicted is a fit to the twelve points, and what it makes of the other rows.
func predicted(t testing.TB, b block) (fit.Result, []fit.Residual) {
	t.Helper()
	if r, ok := twelveFits[b.file]; ok {
		return r, predictions[b.file]
	}
	rows := usual(read(t, b.file))
	points := fit.TwelvePoints(rows)
	r, err := fit.Fit(points, b.c20, fit.FewRows())
	if err != nil {
		t.Fatal(err)
	}
	twelveFits[b.file] = r
	predictions[b.file] = fit.NewNeighbours(&r.Params, points, fit.FewRows().Alike).Check(fit.Without(rows, points))
	return r, predictions[b.file]
}

// unusable says why a table is no test of accuracy.
var unusable = map[string]string{
	"hc1228w_12v_highrate_cc.csv": "six times from 2 to 15 minutes only: nothing to know the slow mode by",
}

// behind are the tables on which the prediction is behind that of the first
// implementation, by how many points. There are none; a table that falls behind
// is to be named here with the reason, and in the report.
var behind = map[string]fit.Summary{}

// over is by how many points got is worse than what was reached before, beyond
// the rounding of those figures.
func over(got, was fit.Summary) fit.Summary {
	by := func(now, then float64) float64 {
		if now <= then+rounding {
			return 0
		}
		return now - then
	}
	return fit.Summary{Median: by(got.Median, was.Median), P90: by(got.P90, was.P90), Worst: by(got.Worst, was.Worst)}
}

// The accuracy that is promised: from twelve points, every other row of the mode
// between 1.60 and 1.80 V with a median error of at most 3 % on every usable
// table and at most 8 % at worst on eleven, and behind the first implementation
// nowhere but where it is said: in no median, no 90th percentile, no worst.
func TestTwelvePointsPredictTheRest(t *testing.T) {
	within := 0
	for _, b := range blocks() {
		_, rest := predicted(t, b)
		got := pct(fit.Summarise(rest))
		t.Logf("%s: %.3f, was %v", b.file, got, b.twelve)
		if len(rest) != b.predictedCells {
			t.Errorf("%s: %d rows to predict, want %d", b.file, len(rest), b.predictedCells)
		}
		if got.Worst <= 8 {
			within++
		}
		if unusable[b.file] == "" && got.Median > 3 {
			t.Errorf("%s: median error %.2f %%", b.file, got.Median)
		}
		by, allowed := over(got, b.twelve), behind[b.file]
		if by.Median > allowed.Median || by.P90 > allowed.P90 || by.Worst > allowed.Worst {
			t.Errorf("%s: %.2f, was %v", b.file, got, b.twelve)
		}
		if allowed != (fit.Summary{}) && by == (fit.Summary{}) {
			t.Errorf("%s is behind no more: %.2f, was %v", b.file, got, b.twelve)
		}
	}
	if within < 11 {
		t.Errorf("the worst error is within 8 %% on %d tables, want 11", within)
	}
}

// The nine figures by themselves, which are what a simulation has, keep the
// first two promises as well.
func TestTwelvePointsByTheCellAlone(t *testing.T) {
	within := 0
	for _, b := range blocks() {
		got := pct(fit.Summarise(alone(t, b)))
		if got.Worst <= 8 {
			within++
		}
		if unusable[b.file] == "" && got.Median > 3 {
			t.Errorf("%s: median error %.2f %%", b.file, got.Median)
		}
	}
	if within < 11 {
		t.Errorf("the worst error is within 8 %% on %d tables, want 11", within)
	}
}

// alone is what the cell fitted to the twelve points makes of the other rows,
// uncorrected.
func alone(t testing.TB, b block) []fit.Residual {
	r, rest := predicted(t, b)
	rows := make([]fit.Row, len(rest))
	for i, x := range rest {
		rows[i] = x.Row
	}
	return fit.Check(&r.Params, rows)
}

// Rows TAB-01 to TAB-28 name a table, a load and an end voltage.
func TestPublishedCells(t *testing.T) {
	c := checks.Load(t)
	cells := map[string]battery.Params{}
	for i := 1; i <= 28; i++ {
		id := fmt.Sprintf("TAB-%02d", i)
		var file, kind, unit string
		var load, endV float64
		inputs := c[id].Inputs
		if _, err := fmt.Sscanf(inputs, "tables/%s constant %s %g %s to %g V/cell", &file, &kind, &load, &unit, &endV); err != nil {
			t.Fatal(id, inputs, err)
		}
		file = file[:len(file)-1] // the comma
		p, ok := cells[file]
		if !ok {
			p = twelvePointFit(t, file)
			cells[file] = p
		}
		hours := p.Runtime(p.AtCharge(1), load, endV)
		if kind == "current" {
			hours = p.RuntimeAtCurrent(p.AtCharge(1), load, endV)
		}
		c.Number(t, id, 60*hours)
	}
}

func twelvePointFit(t *testing.T, file string) battery.Params {
	t.Helper()
	for _, b := range blocks() {
		if b.file == file {
			r, _ := predicted(t, b)
			return r.Params
		}
	}
	t.Fatalf("no block %s", file)
	return battery.Params{}
}

// A table that a known cell made must give a cell that behaves like it.
func TestAKnownCellIsFound(t *testing.T) {
	made := battery.Params{
		C: 7.5, N: 2, Modes: [battery.MaxModes]battery.Mode{{A: 2.4, Lambda: 24}, {A: 0.95, Lambda: 0.80}},
		E0: 2.14, Es: 0.20, R: 0.0090, B: 0.110,
	}
	var rows []fit.Row
	for _, endV := range []float64{1.6, 1.7, 1.75, 1.8} {
		for _, watts := range []float64{36, 25, 20, 12, 7.5, 4, 2.2, 0.66} {
			rows = append(rows, fit.Row{Mode: fit.ConstantPower, EndV: endV, Load: watts, Minutes: 60 * made.Runtime(made.AtCharge(1), watts, endV)})
		}
	}
	r, err := fit.Fit(rows, 6.9, fit.Population(1e-4))
	if err != nil {
		t.Fatal(err)
	}
	if s := fit.Summarise(r.Residuals); s.Worst > 0.002 {
		t.Errorf("worst error %.3f %% after %d steps: %+v", 100*s.Worst, r.Steps, r.Params)
	}
	if math.Abs(r.Params.C/made.C-1) > 0.01 {
		t.Errorf("capacity %v Ah, was %v", r.Params.C, made.C)
	}
	// Recovery after a rest was in no row.
	after := func(p *battery.Params) float64 {
		full := p.AtCharge(1)
		st := p.NewStep(p.Runtime(full, 12, 1.75) - 1e-6)
		s, _, ok := st.ConstantPower(p, full, 12)
		if !ok {
			t.Fatal("the step is refused")
		}
		hour := p.NewStep(1)
		return 60 * p.Runtime(hour.ConstantCurrent(p, s, 0), 12, 1.75)
	}
	if got, want := after(&r.Params), after(&made); math.Abs(got/want-1) > 0.03 {
		t.Errorf("after an hour's rest %v min, the known cell %v", got, want)
	}
}

func TestC20(t *testing.T) {
	for _, b := range blocks() {
		if got := fit.C20(read(t, b.file).Rows); math.Abs(got/b.c20-1) > 0.09 {
			t.Errorf("%s: %.3g Ah, want %v", b.file, got, b.c20)
		}
	}
	if got := fit.C20(nil); got != 0 {
		t.Errorf("no rows give %v Ah", got)
	}
}

func TestFitRefuses(t *testing.T) {
	rows := []fit.Row{{Mode: fit.ConstantPower, EndV: 1.75, Minutes: 15, Load: 19.3}}
	for name, try := range map[string]func() (fit.Result, error){
		"no rows":     func() (fit.Result, error) { return fit.Fit(nil, 7, fit.Population(0.03)) },
		"no capacity": func() (fit.Result, error) { return fit.Fit(rows, 0, fit.Population(0.03)) },
		"NaN":         func() (fit.Result, error) { return fit.Fit(rows, math.NaN(), fit.Population(0.03)) },
	} {
		if r, err := try(); err == nil {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

// One row says little: the rest of the cell stays at the prior, and the row is met.
func TestOneRowIsMet(t *testing.T) {
	r, err := fit.Fit([]fit.Row{{Mode: fit.ConstantPower, EndV: 1.75, Minutes: 15, Load: 19.3}}, 6.86, fit.Population(0.03))
	if err != nil {
		t.Fatal(err)
	}
	if s := fit.Summarise(r.Residuals); s.Worst > 0.01 {
		t.Errorf("15 minutes became %v", r.Residuals[0].ModelMinutes)
	}
}

func BenchmarkFitTwelvePoints(b *testing.B) {
	rows := fit.TwelvePoints(usual(read(b, "xlt12-7_12v7ah.csv")))
	for b.Loop() {
		if _, err := fit.Fit(rows, 6.86, fit.Population(0.03)); err != nil {
			b.Fatal(err)
		}
	}
}

// A start at the mean sees no way to a cell that carries what the mean cannot;
// the stronger start does.
func TestRowsThatTheMeanCannotCarry(t *testing.T) {
	for _, b := range blocks() {
		if b.file != "hc1228w_12v_highrate_cc.csv" {
			continue
		}
		_, rest := predicted(t, b)
		if got := pct(fit.Summarise(rest)); got.Worst > 15 {
			t.Errorf("%.1f", got)
		}
		return
	}
	t.Fatal("no such table")
}

func TestMonotone(t *testing.T) {
	for _, b := range blocks() {
		if err := fit.Monotone(read(t, b.file).Rows); err != nil {
			t.Errorf("%s: %v", b.file, err)
		}
	}
	const head = "mode,end_v_per_cell,minutes,value,unit\n"
	for _, c := range []struct{ name, text, want string }{
		{"longer", "CC,1.75,60,3.9,A_block\nCC,1.75,30,3.8,A_block\n",
			"line 2: 3.9 A for 60 min is not less than 3.8 A for 30 min in line 3, both to 1.75 V"},
		{"longer, the same", "CP,1.75,30,9,W_cell\nCP,1.75,60,54,W_block\n",
			"line 3: 9 W a cell for 60 min is not less than 9 W a cell for 30 min in line 2, both to 1.75 V"},
		{"higher end", "CC,1.60,30,3.8,A_block\nCC,1.75,30,3.9,A_block\n",
			"line 3: 3.9 A to 1.75 V is more than 3.8 A to 1.6 V in line 2, both for 30 min"},
		{"twice", "CC,1.60,30,3.8,A_block\nCC,1.60,60,2,A_block\nCC,1.60,30,3.8,A_block\n",
			"line 4: CC for 30 min to 1.6 V stands in line 2 already"},
		{"the first of two", "CC,1.6,30,3,A_block\nCC,1.6,60,4,A_block\nCC,1.6,90,5,A_block\n",
			"line 3: 4 A for 60 min is not less than 3 A for 30 min in line 2, both to 1.6 V"},
	} {
		table, err := fit.Read(strings.NewReader(head+c.text), 6)
		if err != nil {
			t.Fatal(c.name, err)
		}
		if err := fit.Monotone(table.Rows); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	if err := fit.Monotone(nil); err != nil {
		t.Errorf("no rows: %v", err)
	}
}
