package blocks

import (
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/phys/battery"
)

// The columns of blocks.csv: what a block is, the nine figures of its cell, the
// share of which the text gives five digits, and how it came about.
var columns = []string{
	"name", "capacity_ah",
	"c_ah", "a1", "lambda1_per_h", "a2", "lambda2_per_h", "e0_v", "es_v", "r_ohm", "b_v",
	"origin", "table", "rows", "median_pct", "p90_pct", "worst_pct", "note",
}

const (
	leadCells  = 6
	firstError = 14 // column of median_pct
)

func parse(text string) ([]Block, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	r.FieldsPerRecord = len(columns)
	records, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	var list []Block
	for i, rec := range records {
		if i == 0 {
			continue // the names of the columns
		}
		b, err := parseBlock(rec)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", rec[0], err)
		}
		list = append(list, b)
	}
	return list, nil
}

func parseBlock(rec []string) (Block, error) {
	var x [10]float64 // capacity and cell
	for i := range x {
		var err error
		if x[i], err = strconv.ParseFloat(rec[i+1], 64); err != nil {
			return Block{}, err
		}
	}
	b := Block{
		Name: rec[0], Technology: AGM, Cells: leadCells, CapacityAh: x[0], Cell: cellOf([9]float64(x[1:])),
		Origin: Origin(rec[11]), Table: rec[12], Note: rec[17],
	}
	if b.Origin == Fitted {
		if err := b.parseErrors(rec); err != nil {
			return Block{}, err
		}
	}
	if b.Origin == Prior {
		b.Cell = battery.FromC20(b.CapacityAh) // all digits
	}
	return b, b.Cell.Validate()
}

func (b *Block) parseErrors(rec []string) (err error) {
	if b.Rows, err = strconv.Atoi(rec[13]); err != nil {
		return err
	}
	for i, to := range []*float64{&b.MedianPct, &b.P90Pct, &b.WorstPct} {
		if *to, err = strconv.ParseFloat(rec[firstError+i], 64); err != nil {
			return err
		}
	}
	return nil
}

// cellOf takes the figures in the order of the columns.
func cellOf(x [9]float64) battery.Params {
	return battery.Params{
		C: x[0], N: 2,
		Modes: [battery.MaxModes]battery.Mode{{A: x[1], Lambda: x[2]}, {A: x[3], Lambda: x[4]}},
		E0:    x[5], Es: x[6], R: x[7], B: x[8],
	}
}

// figures is the reverse of cellOf.
func figures(p *battery.Params) [9]float64 {
	return [9]float64{p.C, p.Modes[0].A, p.Modes[0].Lambda, p.Modes[1].A, p.Modes[1].Lambda, p.E0, p.Es, p.R, p.B}
}

// record is a block as a line of blocks.csv, its figures to five digits.
func (b *Block) record() []string {
	number := func(x float64) string { return strconv.FormatFloat(x, 'g', 5, 64) }
	rec := []string{b.Name, number(b.CapacityAh)}
	for _, x := range figures(&b.Cell) {
		rec = append(rec, number(x))
	}
	rec = append(rec, string(b.Origin), b.Table)
	if b.Origin != Fitted {
		return append(rec, "", "", "", "", b.Note)
	}
	pct := func(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }
	return append(rec, strconv.Itoa(b.Rows), pct(b.MedianPct), pct(b.P90Pct), pct(b.WorstPct), b.Note)
}
