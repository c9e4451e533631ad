package dossier

import (
	"math"

	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/snap"
)

// Charts is the run over its time: who was in which state, and the quantities.
func (t *Tape) Charts() *figure.Stack {
	s := &figure.Stack{Title: "States and quantities over the time of the run", Until: max(1, t.end())}
	for i := range t.bands {
		s.Bands = append(s.Bands, figure.Band{Name: t.bands[i].name, Spans: t.bands[i].spans})
	}
	s.Panels = []figure.Panel{t.chargePanel(), t.runtimePanel(), t.loadPanel(), t.voltagePanel(), t.temperaturePanel()}
	if marks := t.transfers(); len(marks) <= maxMarks {
		s.Marks = marks
	}
	return s
}

// maxMarks is how many changes of source are marked; more hide the curves.
const maxMarks = 24

// transfers are the times at which what feeds the output changed.
func (t *Tape) transfers() (list []float64) {
	for i, one := range t.kept {
		if i > 0 && one.source != t.kept[i-1].source {
			list = append(list, one.at.Seconds())
		}
	}
	return list
}

func (t *Tape) end() float64 {
	if t.final == nil {
		return 0
	}
	return t.final.Tick.Seconds()
}

// curve is one quantity of every sample.
func (t *Tape) curve(name string, colour int, dashed bool, of func(*sample) float64) figure.Series {
	line := figure.Series{Name: name, Colour: colour, Dashed: dashed}
	for i := range t.kept {
		line.Points = append(line.Points, figure.XY{X: t.kept[i].at.Seconds(), Y: of(&t.kept[i])})
	}
	if !t.held && len(t.kept) > 0 {
		line.Points = append(line.Points, figure.XY{X: t.last.at.Seconds(), Y: of(&t.last)})
	}
	return line
}

func (t *Tape) chargePanel() figure.Panel {
	return figure.Panel{Label: "charge of the battery, %", Min: 0, Max: 100, Series: []figure.Series{
		t.curve("true", figure.Black, false, func(s *sample) float64 { return s.charge }),
		t.curve("as the unit shows it", figure.Orange, true, func(s *sample) float64 { return s.shown }),
	}}
}

// runtimePanel shows minutes up to what was there on battery, or at first: at next to no
// load they go beyond any axis.
func (t *Tape) runtimePanel() figure.Panel {
	most := 0.0
	for i := range t.kept {
		if s := &t.kept[i]; i == 0 || s.source == snap.SourceBattery {
			most = max(most, s.runtime, s.truth)
		}
	}
	return figure.Panel{Label: "runtime at the present load, min", Min: 0, Max: above(1.1 * most), Series: []figure.Series{
		t.curve("true", figure.Black, false, func(s *sample) float64 { return s.truth }),
		t.curve("as the unit shows it", figure.Orange, true, func(s *sample) float64 { return s.runtime }),
	}}
}

func (t *Tape) loadPanel() figure.Panel {
	rating := t.plan.UPS.RatingW
	most := rating
	for i := range t.kept {
		most = max(most, t.kept[i].loadW)
	}
	return figure.Panel{Label: "load of the output, W", Min: 0, Max: above(1.05 * most), Series: []figure.Series{
		t.curve("load", figure.Black, false, func(s *sample) float64 { return s.loadW }),
		t.curve("rating", figure.Grey, true, func(*sample) float64 { return rating }),
	}}
}

func (t *Tape) voltagePanel() figure.Panel {
	most := 0.0
	for i := range t.kept {
		most = max(most, t.kept[i].inV, t.kept[i].outV)
	}
	label := "voltage, V"
	if t.plan.UPS.LinesIn > 1 {
		label = "voltage of the lowest line, V"
	}
	return figure.Panel{Label: label, Min: 0, Max: above(1.1 * most), Series: []figure.Series{
		t.curve("supply", figure.Blue, false, func(s *sample) float64 { return s.inV }),
		t.curve("output", figure.Black, true, func(s *sample) float64 { return s.outV }),
	}}
}

func (t *Tape) temperaturePanel() figure.Panel {
	lines := []figure.Series{
		t.curve("battery", figure.Black, false, func(s *sample) float64 { return s.batteryC }),
		t.curve("unit", figure.Red, true, func(s *sample) float64 { return s.unitC }),
	}
	for _, more := range []struct {
		name   string
		colour int
		of     func(*sample) float64
	}{
		{"room", figure.Blue, func(s *sample) float64 { return s.room }},
		{"first probe", figure.Green, func(s *sample) float64 { return s.probe }},
	} {
		if line := t.curve(more.name, more.colour, false, more.of); known(line) {
			lines = append(lines, line)
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, l := range lines {
		for _, q := range l.Points {
			if q.Y > figure.Unknown {
				low, high = min(low, q.Y), max(high, q.Y)
			}
		}
	}
	return figure.Panel{Label: "temperature, °C", Min: 5 * math.Floor((low-1)/5), Max: 5 * math.Ceil((high+1)/5), Series: lines}
}

func known(s figure.Series) bool {
	for _, q := range s.Points {
		if q.Y > figure.Unknown {
			return true
		}
	}
	return false
}

// above is a round number that is not below v.
func above(v float64) float64 {
	if v <= 0 {
		return 1
	}
	var unit float64 = 1
	for unit*10 <= v {
		unit *= 10
	}
	for unit > v {
		unit /= 10
	}
	for _, lead := range []float64{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10} {
		if lead*unit >= v {
			return lead * unit
		}
	}
	return v
}
