package sim

import (
	"bytes"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/phys/battery"
)

// FitOptions are the options of [Fit]; the zero value is fine.
type FitOptions struct {
	// Name is what to call the block; "" takes the name of the file.
	Name string
	// Cells is how many cells a block has, for tables of W per block; 0 means 6.
	Cells int
	// CapacityAh is the 20-hour capacity that the search starts from; 0 takes it
	// from the table. A label's figure is better where the table ends below 5 h.
	CapacityAh float64
	// Ask are loads whose time the table does not say.
	Ask []Asked
}

// Asked is a load to an end voltage, and for how long it is carried.
type Asked struct {
	Mode string  // "CC" for constant current, "CP" for constant power
	EndV float64 // V a cell
	Load float64 // A, or W per cell
	// The answers, of [Fit]: by the cell alone, as a simulation has it, and
	// corrected by what the cell leaves of the rows around. Both are 0 if the cell
	// cannot carry the load.
	ModelMinutes, Minutes float64
}

// Cell is one cell of a block as the battery model has it: docs/physics/battery.md.
type Cell struct {
	C       float64 // Ah at an endlessly small current
	A1      float64 // weight of the fast mode
	Lambda1 float64 // its decay, 1/h
	A2      float64 // weight of the slow mode
	Lambda2 float64 // its decay, 1/h
	E0      float64 // rested voltage when full, V
	Es      float64 // its fall from full to empty, V
	R       float64 // ohm
	B       float64 // V per e-fold of depletion
}

// FittedRow is a row of a table and what the fitted cell makes of it.
type FittedRow struct {
	Line         int    // in the file
	Mode         string // "CC" for constant current, "CP" for constant power
	EndV         float64
	Minutes      float64
	Load         float64 // A, or W per cell
	Fitted       bool    // false: outside 1.60 to 1.80 V, only checked
	ModelMinutes float64
	ErrorPct     float64 // of ModelMinutes against Minutes
}

// Fitting is a battery block fitted to a discharge table.
type Fitting struct {
	Name       string
	Table      string // file name without its folder
	Notes      []string
	CapacityAh float64 // of the fitted cell in 20 hours to 1.75 V
	Cell       Cell
	Rows       []FittedRow
	Asked      []Asked
	// Errors of the runtime over the fitted rows, in percent.
	MedianPct, P90Pct, WorstPct float64

	cell battery.Params
	rows []fit.Row
}

// The end voltages between which a lead-acid table tells of the cell: higher up
// the first minutes hang on millivolts, lower down makers extrapolate.
const (
	lowEndV, highEndV = 1.60, 1.80
	// many rows speak for themselves; few lean on what blocks are like.
	many              = 40
	weightMany        = 0.02
	defaultCells      = 6
	maxTable          = 1 << 20
	leastC20, mostC20 = 0.1, 10_000
)

// Fit finds the cell of a lead-acid block from its discharge table, a CSV file
// with lines such as CP,1.75,15,19.3,W_cell (docs/physics/battery.md). The error is
// an *IOError or, for a table that is no table or contradicts itself, an
// *InvalidError with the line.
func Fit(path string, opts FitOptions) (*Fitting, error) {
	text, err := readFile(path, maxTable)
	if err != nil {
		return nil, err
	}
	if opts.Cells == 0 {
		opts.Cells = defaultCells
	}
	table, err := fit.Read(bytes.NewReader(text), opts.Cells)
	if err == nil {
		err = fit.Monotone(table.Rows)
	}
	if err != nil {
		return nil, badTable(path, err)
	}
	return fitTable(path, table, opts)
}

func fitTable(path string, table fit.Table, opts FitOptions) (*Fitting, error) {
	rows := append(fit.Of(table.Rows, fit.ConstantCurrent, lowEndV, highEndV), fit.Of(table.Rows, fit.ConstantPower, lowEndV, highEndV)...)
	if len(rows) == 0 {
		return nil, badTable(path, fmt.Errorf("no row ends at %.2f to %.2f V a cell: only lead-acid blocks can be fitted", lowEndV, highEndV))
	}
	c20 := opts.CapacityAh
	if c20 == 0 {
		c20 = fit.C20(rows)
	}
	if !(c20 >= leastC20 && c20 <= mostC20) {
		return nil, badTable(path, fmt.Errorf("a 20-hour capacity of %.3g Ah; expected %g to %g", c20, leastC20, float64(mostC20)))
	}
	prior := fit.FewRows()
	if len(rows) >= many {
		prior = fit.Population(weightMany)
	}
	result, err := fit.Fit(rows, c20, prior)
	if err != nil {
		return nil, badTable(path, err)
	}
	f := newFitting(path, table, rows, result, opts.Name)
	f.answer(opts.Ask)
	return f, nil
}

// answer says how long loads are carried.
func (f *Fitting) answer(ask []Asked) {
	if len(ask) == 0 {
		return
	}
	around := fit.NewNeighbours(&f.cell, f.rows, fit.FewRows().Alike)
	for _, a := range ask {
		r := fit.Row{Mode: fit.ConstantCurrent, EndV: a.EndV, Load: a.Load, Minutes: 1}
		if a.Mode == fit.ConstantPower.String() {
			r.Mode = fit.ConstantPower
		}
		a.ModelMinutes = fit.Check(&f.cell, []fit.Row{r})[0].ModelMinutes
		a.Minutes = around.Minutes(r)
		f.Asked = append(f.Asked, a)
	}
}

func newFitting(path string, table fit.Table, rows []fit.Row, result fit.Result, name string) *Fitting {
	file := filepath.Base(path)
	if name == "" {
		name = strings.TrimSuffix(file, filepath.Ext(file))
	}
	p := result.Params
	sum := fit.Summarise(result.Residuals)
	f := &Fitting{
		Name: report.OneLine(name), Table: report.OneLine(file), Notes: table.Notes, CapacityAh: p.CapacityIn(20, 1.75),
		Cell: Cell{
			C: p.C, A1: p.Modes[0].A, Lambda1: p.Modes[0].Lambda, A2: p.Modes[1].A, Lambda2: p.Modes[1].Lambda,
			E0: p.E0, Es: p.Es, R: p.R, B: p.B,
		},
		MedianPct: 100 * sum.Median, P90Pct: 100 * sum.P90, WorstPct: 100 * sum.Worst,
		cell: p, rows: rows,
	}
	for _, r := range fit.Check(&p, table.Rows) {
		f.Rows = append(f.Rows, FittedRow{
			Line: r.Line, Mode: r.Mode.String(), EndV: r.EndV, Minutes: r.Minutes, Load: r.Load,
			Fitted:       len(fit.Of([]fit.Row{r.Row}, r.Mode, lowEndV, highEndV)) > 0,
			ModelMinutes: r.ModelMinutes, ErrorPct: 100 * r.Error,
		})
	}
	return f
}

// Chart is the table's points against the cell's curves.
func (f *Fitting) Chart() *Chart { return &Chart{figure.FitChart(f.Name, &f.cell, f.rows)} }

func badTable(path string, err error) *InvalidError {
	e := invalidFile(path, err.Error())
	var line *fit.LineError
	if errors.As(err, &line) {
		e.Line, e.What = line.Line, line.What
		e.text = report.OneLine(fmt.Sprintf("%s:%d: %s", path, line.Line, line.What))
	}
	return e
}
