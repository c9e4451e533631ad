package sim

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/fit"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/phys/battery"
)

// DischargeOptions are the options of [FitDischarge].
type DischargeOptions struct {
	Base    string // block of the library that the battery is made of
	Series  int    // blocks in series in a string; 0 means 6
	Strings int    // in parallel; 0 means 1
	// ChargePct is the charge at the beginning, 0 for 100; TempC the battery's
	// temperature where the record does not tell, NaN for 25.
	ChargePct, TempC float64
	// Efficiency is of the inverter, where the record has the output power and no
	// current of the battery; 0 means 0.92.
	Efficiency float64
	LifeYears  float64 // life on float at 25 degrees, for the age; 0 means 10
	// Log receives talk for people, a line a call.
	Log func(string)
}

// Estimate is a figure and its standard deviation.
type Estimate struct{ Value, Deviation float64 }

// Discharge is what a recorded discharge says of a battery.
type Discharge struct {
	File, Base      string
	Series, Strings int
	Samples         int
	Minutes, TempC  float64
	DrawnPct        float64  // of the found capacity
	CapacityPct     Estimate // of the base's when new, at 25 degrees
	ResistancePct   Estimate
	OffsetMV        Estimate // of the voltage, per cell
	AgeYears        Estimate // that capacity would mean on float at 25 degrees; of a new battery negative
	Correlation     float64  // of the errors of capacity and resistance
	NoiseMV         float64  // left, root mean square, per cell
	Notes           []string // what the discharge cannot tell
	Residuals       []DischargeResidual
}

// DischargeResidual is one sample and what the fitted cell makes of it, per cell.
type DischargeResidual struct{ Minutes, Volts, Amps, ModelVolts float64 }

// FitDischarge finds the capacity, resistance and age of a lead-acid battery from the
// longest discharge in the file at path: a bundle, or a table of seconds, volts and
// amperes or watts (docs/physics/battery.md). The error is an *IOError or an
// *InvalidError.
func FitDischarge(path string, o DischargeOptions) (*Discharge, error) {
	block, ok := blocks.ByName(o.Base)
	switch {
	case !ok:
		return nil, unfit("there is no block %q; expected one of %s", o.Base, strings.Join(blocks.Names(), ", "))
	case block.Technology != blocks.AGM:
		return nil, unfit("block %s is not lead-acid: the voltage of others hardly tells their charge", o.Base)
	}
	o.fill()
	moments, err := o.moments(path)
	if err != nil {
		return nil, err
	}
	temp := o.temperature(moments)
	samples := fit.Samples(moments, o.Series*block.Cells, o.Strings)
	h, err := fit.Recorded(samples, block.Cell, o.ChargePct/100, temp)
	if err != nil {
		return nil, badTable(path, err)
	}
	d := &Discharge{
		File: report.OneLine(filepath.Base(path)), Base: block.Name, Series: o.Series, Strings: o.Strings, Samples: len(samples),
		Minutes: 60 * samples[len(samples)-1].Hours, TempC: temp, DrawnPct: 100 * h.Drawn,
		CapacityPct: percent(h.Capacity), ResistancePct: percent(h.Resistance), OffsetMV: Estimate{1000 * h.OffsetV.Value, 1000 * h.OffsetV.Deviation},
		Correlation: h.Correlation, NoiseMV: 1000 * h.NoiseV,
	}
	life := (&plan.Battery{LifeYears: o.LifeYears}).Ageing().Life(battery.ReferenceC)
	d.AgeYears = Estimate{(1 - h.Capacity.Value) / 0.2 * life, h.Capacity.Deviation / 0.2 * life}
	for i, x := range samples {
		d.Residuals = append(d.Residuals, DischargeResidual{60 * x.Hours, x.Volts, x.Amps, h.Model[i]})
	}
	d.Notes = d.notes(&h)
	return d, nil
}

func (o *DischargeOptions) fill() {
	for _, x := range []struct {
		value *float64
		usual float64
	}{{&o.ChargePct, 100}, {&o.Efficiency, 0.92}, {&o.LifeYears, 10}} {
		if *x.value == 0 {
			*x.value = x.usual
		}
	}
	o.Series, o.Strings = max(o.Series, 0), max(o.Strings, 1)
	if o.Series == 0 {
		o.Series = 6
	}
}

func percent(g fit.Guess) Estimate { return Estimate{100 * g.Value, 100 * g.Deviation} }

// moments are those of a table, or of the longest time on battery in a bundle.
func (o *DischargeOptions) moments(path string) ([]fit.Moment, error) {
	text, err := readFile(path, maxDischarge)
	if err != nil {
		return nil, err
	}
	if !bytes.HasPrefix(text, []byte(`{`)) {
		list, err := fit.ReadMoments(bytes.NewReader(text))
		if err != nil {
			return nil, badTable(path, err)
		}
		return list, nil
	}
	b, err := readBundle(path, o.Log)
	if err != nil {
		return nil, err
	}
	list, err := o.onBattery(b)
	if err != nil {
		return nil, invalidBundle(path, err.Error())
	}
	return list, nil
}

const maxDischarge = 32 << 20

// onBattery is the longest time on battery in b.
func (o *DischargeOptions) onBattery(b *bundle.Bundle) ([]fit.Moment, error) {
	var longest, run []fit.Moment
	for _, r := range readouts(b, 0) {
		if r.source != snap.SourceBattery {
			run = nil
			continue
		}
		m, err := o.moment(&r)
		if err != nil {
			return nil, err
		}
		run = append(run, m)
		if len(run) > len(longest) {
			longest = run
		}
	}
	if len(longest) < fit.LeastSamples {
		return nil, fmt.Errorf("the longest time on battery has %d readings: expected at least %d", len(longest), fit.LeastSamples)
	}
	return longest, nil
}

func (o *DischargeOptions) moment(r *readout) (m fit.Moment, err error) {
	m = fit.Moment{Seconds: r.at.Duration().Seconds(), Volts: r.volts, TempC: r.temp, Warm: !math.IsNaN(r.temp)}
	switch {
	case !(m.Volts > 0):
		return m, errors.New("the card does not tell the battery's voltage while it is on battery")
	case r.amps != 0 && !math.IsNaN(r.amps):
		m.Amps = math.Abs(r.amps) // RFC 1628 leaves the sign open
	case !math.IsNaN(r.loadW):
		m.Watts = r.loadW / o.Efficiency
	default:
		return m, errors.New("the card tells neither the battery's current nor the output power")
	}
	return m, nil
}

// temperature is the mean of what the record tells.
func (o *DischargeOptions) temperature(list []fit.Moment) float64 {
	sum, n := 0.0, 0.0
	for _, m := range list {
		if m.Warm {
			sum, n = sum+m.TempC, n+1
		}
	}
	switch {
	case n > 0:
		return sum / n
	case math.IsNaN(o.TempC):
		return battery.ReferenceC
	}
	return o.TempC
}

// notes say what one discharge cannot tell apart, and what this one does not tell.
func (d *Discharge) notes(h *fit.Health) []string {
	list := []string{
		"A charge below what was taken for the beginning looks like less capacity: a share of a tenth less charge like a tenth less capacity.",
		"Wrong numbers of strings, a wrong temperature and a base block of another make look like capacity and resistance too; cables and connectors between battery and meter like resistance.",
		"One weak block looks like a whole string that is a little worse: only voltages of single blocks tell.",
	}
	if h.Capacity.Deviation > 0.05*h.Capacity.Value {
		list = append(list, fmt.Sprintf("The discharge ended long before the battery was empty (%.0f %% drawn): it hardly tells the capacity.", d.DrawnPct))
	}
	if h.Resistance.Deviation > 0.3*h.Resistance.Value {
		list = append(list, "The load hardly changed and the offset of the voltage is not known: the resistance is little more than what was expected beforehand.")
	}
	if 1000*h.NoiseV > 20 {
		list = append(list, fmt.Sprintf("The cell leaves %.0f mV: it may not be this block, or not this many cells.", 1000*h.NoiseV))
	}
	return list
}

// Chart is the recorded voltage against that of the fitted cell.
func (d *Discharge) Chart() *Chart {
	c := figure.Chart{
		Title:    d.File + ": recorded (points) against the fitted cell (curve)",
		Subtitle: fmt.Sprintf("%s at %.0f %% of its capacity and %.0f %% of its resistance; %.1f mV a cell left", d.Base, d.CapacityPct.Value, d.ResistancePct.Value, d.NoiseMV),
		X:        figure.Axis{Label: "Minutes", Max: max(d.Minutes, 0.1)}, Y: figure.Axis{Label: "V a cell", Min: 3, Max: 0},
	}
	var seen, model []figure.XY
	const dots = 60 // as many as do not hide the curve
	for i, r := range d.Residuals {
		if i%(1+len(d.Residuals)/dots) == 0 {
			seen = append(seen, figure.XY{X: r.Minutes, Y: r.Volts})
		}
		model = append(model, figure.XY{X: r.Minutes, Y: r.ModelVolts})
		c.Y.Min, c.Y.Max = min(c.Y.Min, r.Volts, r.ModelVolts), max(c.Y.Max, r.Volts, r.ModelVolts)
	}
	margin := max(0.02, 0.05*(c.Y.Max-c.Y.Min))
	c.Y.Min, c.Y.Max = c.Y.Min-margin, c.Y.Max+margin
	c.LegendTop = true
	c.Series = []figure.Series{
		{Name: "recorded", Points: seen, Mark: figure.Dots, Colour: figure.Family + figure.FamilySize - 1},
		{Name: "fitted", Points: model, Colour: figure.Family},
	}
	return &Chart{c}
}
