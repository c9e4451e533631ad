package sim

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"ridethrough/sim/internal/core/report"
)

// Text writes the fit for people: the figures, the error of every row, and the
// lines of a scenario that use the block.
func (f *Fitting) Text(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s: %.3g Ah in 20 h to 1.75 V a cell\nfrom %s\n", f.Name, f.CapacityAh, f.Table)
	for _, n := range f.Notes {
		if n != "" {
			fmt.Fprintf(&b, "  %s\n", report.OneLine(n))
		}
	}
	b.WriteString("\nper cell\n")
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, x := range f.Cell.figures() {
		fmt.Fprintf(t, "  %s\t%.4g\t%s\t%s\n", x.key, x.value, x.unit, x.meaning)
	}
	t.Flush()
	fmt.Fprintf(&b, "\nerror of the runtime over %d rows: median %.1f %%, 90th percentile %.1f %%, worst %.1f %%\n",
		f.fitted(), f.MedianPct, f.P90Pct, f.WorstPct)
	for _, mode := range []string{"CC", "CP"} {
		f.grid(&b, mode)
	}
	f.answers(&b)
	fmt.Fprintf(&b, "\nin a scenario\n%s", f.Scenario())
	_, err := w.Write(b.Bytes())
	return err
}

func (f *Fitting) fitted() (n int) {
	for _, r := range f.Rows {
		if r.Fitted {
			n++
		}
	}
	return n
}

// figure is one of the numbers of a cell, for people.
type cellFigure struct {
	key, unit, meaning string
	value              float64
}

func (c Cell) figures() []cellFigure {
	return []cellFigure{
		{"c_ah", "Ah", "charge at an endlessly small current", c.C},
		{"a1", "", "weight of the fast mode", c.A1},
		{"lambda1_per_h", "1/h", "its decay", c.Lambda1},
		{"a2", "", "weight of the slow mode", c.A2},
		{"lambda2_per_h", "1/h", "its decay", c.Lambda2},
		{"e0_v", "V", "rested voltage when full", c.E0},
		{"es_v", "V", "its fall from full to empty", c.Es},
		{"r_ohm", "ohm", "resistance", c.R},
		{"b_v", "V", "overvoltage per e-fold of depletion", c.B},
	}
}

// grid is the errors of one mode: a line for each time, a column for each end
// voltage.
func (f *Fitting) grid(b *bytes.Buffer, mode string) {
	rows := slices.DeleteFunc(slices.Clone(f.Rows), func(r FittedRow) bool { return r.Mode != mode })
	if len(rows) == 0 {
		return
	}
	ends, times := distinct(rows, func(r FittedRow) float64 { return r.EndV }), distinct(rows, func(r FittedRow) float64 { return r.Minutes })
	name := map[string]string{"CC": "constant current", "CP": "constant power"}[mode]
	fmt.Fprintf(b, "\n%s: error in %% by minutes and end voltage; in brackets what was not fitted\n", name)
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "min\t")
	for _, v := range ends {
		fmt.Fprintf(t, "%.4g V\t", v)
	}
	fmt.Fprintln(t)
	for _, m := range times {
		fmt.Fprintf(t, "%g\t", m)
		for _, v := range ends {
			fmt.Fprintf(t, "%s\t", errorAt(rows, m, v))
		}
		fmt.Fprintln(t)
	}
	t.Flush()
}

func (f *Fitting) answers(b *bytes.Buffer) {
	if len(f.Asked) == 0 {
		return
	}
	b.WriteString("\nasked, in minutes: by the cell alone, and corrected by the rows around\n")
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	for _, a := range f.Asked {
		unit := "A"
		if a.Mode == "CP" {
			unit = "W a cell"
		}
		if a.ModelMinutes <= 0 {
			fmt.Fprintf(t, "  %.4g %s to %.4g V\tcannot be carried\t\n", a.Load, unit, a.EndV)
			continue
		}
		fmt.Fprintf(t, "  %.4g %s to %.4g V\t%.4g\t%.4g\n", a.Load, unit, a.EndV, a.ModelMinutes, a.Minutes)
	}
	t.Flush()
}

func errorAt(rows []FittedRow, minutes, endV float64) string {
	for _, r := range rows {
		if r.Minutes != minutes || r.EndV != endV {
			continue
		}
		text := fmt.Sprintf("%+.1f", r.ErrorPct)
		if !r.Fitted {
			text = "(" + text + ")"
		}
		return text
	}
	return "."
}

func distinct(rows []FittedRow, of func(FittedRow) float64) (list []float64) {
	for _, r := range rows {
		list = append(list, of(r))
	}
	slices.SortFunc(list, cmp.Compare[float64])
	return slices.Compact(list)
}

// Scenario is the lines of a scenario file that give its battery this cell.
func (f *Fitting) Scenario() string {
	parts := []string{fmt.Sprintf("name = %s", tomlText(f.Name))}
	for _, x := range f.Cell.figures() {
		parts = append(parts, fmt.Sprintf("%s = %.5g", x.key, x.value))
	}
	return "[battery]\nparams = { " + strings.Join(parts, ", ") + " }\n"
}

// tomlText quotes a name that a scenario accepts: what it does not is left out.
func tomlText(s string) string {
	const longest = 40
	var out []rune
	for _, r := range s {
		if r >= ' ' && r != 0x7f && r != '"' && r != '\\' && len(out) < longest {
			out = append(out, r)
		}
	}
	return `"` + string(out) + `"`
}

// The JSON document of docs/json.md.
type jsonFit struct {
	Version    int          `json:"ridethrough_fit"`
	Name       string       `json:"name"`
	Table      string       `json:"table"`
	CapacityAh float64      `json:"capacity_ah"`
	MedianPct  float64      `json:"median_pct"`
	P90Pct     float64      `json:"p90_pct"`
	WorstPct   float64      `json:"worst_pct"`
	Params     jsonParams   `json:"params"`
	Rows       []jsonFitRow `json:"rows"`
	Asked      []jsonAsked  `json:"asked,omitempty"`
}

type jsonAsked struct {
	Mode         string  `json:"mode"`
	EndV         float64 `json:"end_v_per_cell"`
	Load         float64 `json:"load"`
	ModelMinutes float64 `json:"model_minutes"`
	Minutes      float64 `json:"minutes"`
}

type jsonParams struct {
	C       float64 `json:"c_ah"`
	A1      float64 `json:"a1"`
	Lambda1 float64 `json:"lambda1_per_h"`
	A2      float64 `json:"a2"`
	Lambda2 float64 `json:"lambda2_per_h"`
	E0      float64 `json:"e0_v"`
	Es      float64 `json:"es_v"`
	R       float64 `json:"r_ohm"`
	B       float64 `json:"b_v"`
}

type jsonFitRow struct {
	Line         int     `json:"line"`
	Mode         string  `json:"mode"`
	EndV         float64 `json:"end_v_per_cell"`
	Minutes      float64 `json:"minutes"`
	Load         float64 `json:"load"`
	Fitted       bool    `json:"fitted"`
	ModelMinutes float64 `json:"model_minutes"`
	ErrorPct     float64 `json:"error_pct"`
}

// JSON writes the fit as docs/json.md describes it.
func (f *Fitting) JSON(w io.Writer) error {
	doc := jsonFit{
		Version: 1, Name: f.Name, Table: f.Table, CapacityAh: f.CapacityAh,
		MedianPct: f.MedianPct, P90Pct: f.P90Pct, WorstPct: f.WorstPct, Params: jsonParams(f.Cell),
	}
	for _, r := range f.Rows {
		doc.Rows = append(doc.Rows, jsonFitRow(r))
	}
	for _, a := range f.Asked {
		doc.Asked = append(doc.Asked, jsonAsked(a))
	}
	return report.WriteJSON(w, doc)
}
