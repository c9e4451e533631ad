package fit

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Mode says what a row holds constant.
type Mode uint8

// Modes.
const (
	ConstantCurrent Mode = iota
	ConstantPower
)

// String is the word that tables use.
func (m Mode) String() string {
	if m == ConstantPower {
		return "CP"
	}
	return "CC"
}

// Row is one cell of a discharge table: Load, in A or in W per battery cell, is
// carried for Minutes until the voltage per cell is EndV.
type Row struct {
	Mode    Mode
	EndV    float64
	Minutes float64
	Load    float64
	Line    int // in the file, from 1; 0 for a row that was not read
}

// Table is a discharge table. Notes are its comment lines without the sign:
// what block it is, where the figures come from, at what temperature.
type Table struct {
	Notes []string
	Rows  []Row
}

// LineError is what is wrong with one line of a table.
type LineError struct {
	Line int
	What string
}

// Error is one line for a person.
func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.What) }

const (
	header = "mode,end_v_per_cell,minutes,value,unit"
	// maxLine bounds a line of a table file.
	maxLine = 4096
)

// Read reads a table as comma-separated text: comment lines that begin with #,
// the line mode,end_v_per_cell,minutes,value,unit and then rows such as
// CP,1.75,15,19.3,W_cell. The mode is CC or CP, the unit A_block, W_block or
// W_cell; cells is the number of cells in a block. What is wrong with a line is a
// *[LineError]. Whether the rows can all be true says [Monotone].
func Read(r io.Reader, cells int) (Table, error) {
	if cells < 1 {
		return Table{}, errors.New("a block needs at least one cell")
	}
	var t Table
	seen := false
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, maxLine), maxLine)
	n := 0
	for lines.Scan() {
		n++
		line := strings.TrimSpace(lines.Text())
		switch note, isNote := strings.CutPrefix(line, "#"); {
		case line == "":
		case isNote:
			t.Notes = append(t.Notes, strings.TrimSpace(note))
		case !seen && line == header:
			seen = true
		case !seen:
			return Table{}, &LineError{n, "want the column names " + header + ", or for a recorded discharge the block that it is of (--base)"}
		default:
			row, err := parseRow(line, cells)
			if err != nil {
				return Table{}, &LineError{n, err.Error()}
			}
			row.Line = n
			t.Rows = append(t.Rows, row)
		}
	}
	if err := lineError(lines.Err(), n+1); err != nil {
		return Table{}, err
	}
	if len(t.Rows) == 0 {
		return Table{}, errors.New("the table has no rows")
	}
	return t, nil
}

// lineError says of which line it is that it is too long.
func lineError(err error, line int) error {
	if errors.Is(err, bufio.ErrTooLong) {
		return &LineError{line, fmt.Sprintf("is longer than %d octets", maxLine)}
	}
	return err
}

func parseRow(line string, cells int) (Row, error) {
	f := strings.Split(line, ",")
	if len(f) != 5 {
		return Row{}, fmt.Errorf("%d columns, want 5", len(f))
	}
	var row Row
	var err error
	if row.Mode, err = parseMode(f[0]); err != nil {
		return Row{}, err
	}
	for i, to := range []*float64{&row.EndV, &row.Minutes, &row.Load} {
		if *to, err = parsePositive(f[i+1]); err != nil {
			return Row{}, err
		}
	}
	switch unit := f[4]; {
	case row.Mode == ConstantCurrent && unit == "A_block":
	case row.Mode == ConstantPower && unit == "W_cell":
	case row.Mode == ConstantPower && unit == "W_block":
		row.Load /= float64(cells)
	default:
		return Row{}, fmt.Errorf("unit %q does not go with mode %s", unit, row.Mode)
	}
	return row, nil
}

func parseMode(s string) (Mode, error) {
	switch s {
	case "CC":
		return ConstantCurrent, nil
	case "CP":
		return ConstantPower, nil
	}
	return 0, fmt.Errorf("mode %q is neither CC nor CP", s)
}

func parsePositive(s string) (float64, error) {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x > 1e-9 && x < 1e9) || math.IsNaN(x) {
		return 0, fmt.Errorf("%q is not a positive number", s)
	}
	return x, nil
}
