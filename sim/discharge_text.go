package sim

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"ridethrough/sim/internal/core/report"
)

// Scenario is the lines of a scenario file that give its battery this health.
func (d *Discharge) Scenario() string {
	capacity, resistance := d.health()
	return fmt.Sprintf("[battery]\nblock = %s\nseries = %d\nstrings = %d\nhealth = { capacity_pct = %.1f, resistance_pct = %.1f }\n",
		tomlText(d.Base), d.Series, d.Strings, capacity, resistance)
}

// health is what was found as far as a scenario takes it.
func (d *Discharge) health() (capacityPct, resistancePct float64) {
	return min(max(d.CapacityPct.Value, 5), 110), min(max(d.ResistancePct.Value, 50), 1000)
}

// Text writes what was found for people.
func (d *Discharge) Text(w io.Writer) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s: %d samples in %.1f min at %.1f C, %.0f %% of the capacity drawn\nagainst %s, %d in series, strings: %d\n\n",
		d.File, d.Samples, d.Minutes, d.TempC, d.DrawnPct, d.Base, d.Series, d.Strings)
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, x := range []struct {
		name, unit string
		e          Estimate
	}{
		{"capacity", "% of new", d.CapacityPct}, {"resistance", "% of new", d.ResistancePct},
		{"age by capacity", "years on float at 25 C", d.AgeYears}, {"offset of the voltage", "mV a cell", d.OffsetMV},
	} {
		fmt.Fprintf(t, "  %s\t%.1f\t+- %.1f\t%s\n", x.name, x.e.Value, x.e.Deviation, x.unit)
	}
	t.Flush()
	fmt.Fprintf(&b, "\n+- is one standard deviation, for a base that is the right one; errors of capacity and resistance correlate by %+.2f\n", d.Correlation)
	fmt.Fprintf(&b, "left: %.1f mV a cell, root mean square, at worst %+.1f mV\n\n", d.NoiseMV, d.worst())
	for _, n := range d.Notes {
		fmt.Fprintf(&b, "%s\n", n)
	}
	b.WriteString("\nin a scenario\n")
	if capacity, resistance := d.health(); capacity != d.CapacityPct.Value || resistance != d.ResistancePct.Value {
		b.WriteString("# not as found: the nearest that a scenario takes\n")
	}
	b.WriteString(d.Scenario())
	_, err := w.Write(b.Bytes())
	return err
}

// worst is the largest residual, model less record, in millivolts.
func (d *Discharge) worst() (mv float64) {
	for _, r := range d.Residuals {
		if e := 1000 * (r.ModelVolts - r.Volts); math.Abs(e) > math.Abs(mv) {
			mv = e
		}
	}
	return mv
}

type jsonDischarge struct {
	Version     int                     `json:"ridethrough_discharge"`
	File        string                  `json:"file"`
	Base        string                  `json:"base"`
	Series      int                     `json:"series"`
	Strings     int                     `json:"strings"`
	TempC       float64                 `json:"temp_c"`
	DrawnPct    float64                 `json:"drawn_pct"`
	Capacity    jsonEstimate            `json:"capacity_pct"`
	Resistance  jsonEstimate            `json:"resistance_pct"`
	Age         jsonEstimate            `json:"age_years"`
	Offset      jsonEstimate            `json:"offset_mv"`
	Correlation float64                 `json:"correlation"`
	NoiseMV     float64                 `json:"noise_mv"`
	Notes       []string                `json:"notes"`
	Samples     []jsonDischargeResidual `json:"samples"`
}

type jsonEstimate struct {
	Value     float64 `json:"value"`
	Deviation float64 `json:"deviation"`
}

type jsonDischargeResidual struct {
	Minutes    float64 `json:"minutes"`
	Volts      float64 `json:"volts"`
	Amps       float64 `json:"amps"`
	ModelVolts float64 `json:"model_volts"`
}

// JSON writes what was found as docs/json.md describes it.
func (d *Discharge) JSON(w io.Writer) error {
	doc := jsonDischarge{
		Version: 1, File: d.File, Base: d.Base, Series: d.Series, Strings: d.Strings, TempC: d.TempC, DrawnPct: d.DrawnPct,
		Capacity: jsonEstimate(d.CapacityPct), Resistance: jsonEstimate(d.ResistancePct), Age: jsonEstimate(d.AgeYears), Offset: jsonEstimate(d.OffsetMV),
		Correlation: d.Correlation, NoiseMV: d.NoiseMV, Notes: d.Notes,
	}
	for _, r := range d.Residuals {
		doc.Samples = append(doc.Samples, jsonDischargeResidual(r))
	}
	return report.WriteJSON(w, doc)
}
