package figure

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/blocks"
	"ridethrough/sim/internal/phys/battery"
)

// rates are the constant currents of a discharge chart, as multiples of the
// 20-hour capacity per hour.
var rates = []float64{0.05, 0.1, 0.2, 0.5, 1, 2, 3, 5}

// Discharge is the terminal voltage of a block against time, full at the start,
// at constant currents from the 20-hour one to five times the capacity an hour,
// at 25 C when new.
func Discharge(b *blocks.Block) Chart {
	endV := endVolts(b)
	c := Chart{
		Title:    b.Name + ": discharge at constant current",
		Subtitle: subtitle(b),
		X:        Minutes(0.5, 2400),
		Y:        Axis{Label: fmt.Sprintf("Voltage of the block of %d cells, V", b.Cells)},
	}
	lowest, highest := math.Inf(1), 0.0
	for i, rate := range rates {
		line := course(&b.Cell, rate*b.CapacityAh, endV, float64(b.Cells))
		if len(line) == 0 || rate*b.CapacityAh > mostAmps(b) {
			continue
		}
		for _, q := range line {
			lowest, highest = min(lowest, q.Y), max(highest, q.Y)
		}
		c.Series = append(c.Series, Series{Points: line, Colour: Family + i*(FamilySize-1)/(len(rates)-1)})
		c.Labels = append(c.Labels, Label{
			At: line[len(line)-1], Text: fmt.Sprintf("%g C\n%.3g A", rate, rate*b.CapacityAh), Below: true, Centre: true, Backed: true,
		})
	}
	c.Y.Min = math.Floor((lowest-0.5)*2) / 2
	c.Y.Max = math.Ceil((highest+0.1)*2) / 2
	c.Y.round(0.5, 1)
	return c
}

func subtitle(b *blocks.Block) string {
	text := fmt.Sprintf("new, full, 25 °C, to %.2f V a cell; C = %.3g Ah (20 h); ", endVolts(b), b.CapacityAh)
	switch b.Origin {
	case blocks.Fitted:
		text += fmt.Sprintf("fitted, median error of the runtime %.1f %%", b.MedianPct)
	case blocks.Prior:
		text += "typical for its capacity"
	default:
		text += "from memory"
	}
	return text
}

// endVolts is where a discharge of the block is taken to end, in V per cell: a
// usual end for lead-acid, the management system's otherwise.
func endVolts(b *blocks.Block) float64 {
	if b.Technology == blocks.LFP {
		return blocks.ManagementFor(b.CapacityAh).LowV
	}
	return 1.60
}

// mostAmps is the largest current that a chart shows.
func mostAmps(b *blocks.Block) float64 {
	if b.Technology == blocks.LFP {
		return blocks.ManagementFor(b.CapacityAh).DischargeA
	}
	return math.Inf(1)
}

// course is the terminal voltage of cells in series at a constant current, at
// some 150 times from half a minute to the end; none if the end comes before a
// minute or never.
func course(p *battery.Params, amps, endV, cells float64) []XY {
	const n, first = 100, 0.5 / 60
	full := p.AtCharge(1)
	hours := p.RuntimeAtCurrent(full, amps, endV)
	if hours < 2*first || hours >= battery.MaxRuntime {
		return nil
	}
	axis := Axis{Min: first, Max: hours, Log: true}
	early := axis.curve(n, func(h float64) float64 { return at(p, amps, h) * cells })
	late := Axis{Min: 0.7 * hours, Max: hours}.curve(n/2, func(h float64) float64 { return at(p, amps, h) * cells })
	return inMinutes(merge(early, late))
}

// at is the voltage of a full cell after hours at a constant current.
func at(p *battery.Params, amps, hours float64) float64 {
	st := p.NewStep(hours)
	return p.Volts(st.ConstantCurrent(p, p.AtCharge(1), amps), amps)
}

// merge keeps a up to where b begins.
func merge(a, b []XY) (out []XY) {
	for _, q := range a {
		if q.X < b[0].X {
			out = append(out, q)
		}
	}
	return append(out, b...)
}

func inMinutes(line []XY) []XY {
	for i := range line {
		line[i].X *= 60
	}
	return line
}
