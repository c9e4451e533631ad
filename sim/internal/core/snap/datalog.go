package snap

import "math"

// DataLog is what the card logged of its readings at an interval. Its entries
// never change.
type DataLog struct {
	Samples []Sample // oldest first; a little more than it keeps
	Lost    uint32   // went before them
}

// Sample is one entry of the data log: what the card read at an instant, in the
// steps of its columns, see [DataColumns].
type Sample struct {
	Seq    uint32       `json:"-"` // never reused
	At     Stamp        `json:"at"`
	Source OutputSource `json:"source"`

	InputV, OutputV [3]int32 // 0.1 V
	OutputW         int32    // of all lines
	LoadPct         int32    // of the line with the most, 0.1 %
	ChargePct       int32    // 0.1 %
	RuntimeS        int32
	BatteryV        int32            // 0.1 V
	BatteryC        int32            // 0.1 degrees Celsius
	ProbeC          [MaxProbes]int32 // 0.1 degrees Celsius; [NoReading]
	ProbePct        [MaxProbes]int32 // relative humidity; [NoReading]
	EnergyWh        int64            // of all groups since the last reset
}

// NoReading stands where there is none: a probe is lost, or does not measure that.
const NoReading = math.MinInt32

// SampleOf is what d reads at its tick, without a number.
func SampleOf(d *Device) Sample {
	s := Sample{
		At: d.Card.Clock.Stamp(d.Tick), Source: d.UPS.Source,
		ChargePct: tenths(d.Battery.ChargePct), RuntimeS: whole(d.Battery.RuntimeS),
		BatteryV: tenths(d.Battery.Volts), BatteryC: tenths(d.Battery.TempC),
	}
	watts, load := 0.0, 0.0
	for i := range d.Output.Count {
		s.OutputV[i] = tenths(d.Output.Lines[i].Volts)
		watts += d.Output.Lines[i].Watts
		load = max(load, d.Output.Lines[i].LoadPct)
	}
	s.OutputW, s.LoadPct = whole(watts), tenths(load)
	for i := range d.Input.Count {
		s.InputV[i] = tenths(d.Input.Lines[i].Volts)
	}
	for i := range s.ProbeC {
		s.ProbeC[i], s.ProbePct[i] = NoReading, NoReading
		if p := &d.Probes.List[i]; i < d.Probes.Count && p.State != ProbeLost {
			s.ProbeC[i] = tenths(p.TempC)
			if p.HasHumidity {
				s.ProbePct[i] = whole(p.HumidityPct)
			}
		}
	}
	if d.Energy != nil {
		s.EnergyWh = int64(math.Round(d.Energy.Total(d.Tick).Wh))
	}
	return s
}

func tenths(v float64) int32 { return whole(10 * v) }

// whole is v as the nearest whole number that fits.
func whole(v float64) int32 {
	if math.IsNaN(v) {
		return 0
	}
	return int32(math.Round(min(max(v, -math.MaxInt32), math.MaxInt32)))
}

// DataColumn is one column of the data log beside number, date and source.
type DataColumn struct {
	Name     string // with its unit
	Decimals int    // the value is in steps of 10^-Decimals of the unit
	Value    func(*Sample) int64
}

// DataColumns are the columns that d's unit and probes have.
func DataColumns(d *Device) []DataColumn {
	list := lineColumns("input", &d.Input, func(s *Sample) *[3]int32 { return &s.InputV })
	list = append(list, lineColumns("output", &d.Output, func(s *Sample) *[3]int32 { return &s.OutputV })...)
	list = append(list,
		DataColumn{"output_w", 0, func(s *Sample) int64 { return int64(s.OutputW) }},
		DataColumn{"load_pct", 1, func(s *Sample) int64 { return int64(s.LoadPct) }},
		DataColumn{"charge_pct", 1, func(s *Sample) int64 { return int64(s.ChargePct) }},
		DataColumn{"runtime_s", 0, func(s *Sample) int64 { return int64(s.RuntimeS) }},
		DataColumn{"battery_v", 1, func(s *Sample) int64 { return int64(s.BatteryV) }},
		DataColumn{"battery_c", 1, func(s *Sample) int64 { return int64(s.BatteryC) }})
	for i := range d.Probes.Count {
		p := &d.Probes.List[i]
		list = append(list, DataColumn{"probe_" + p.Name + "_c", 1, func(s *Sample) int64 { return int64(s.ProbeC[i]) }})
		if p.HasHumidity {
			list = append(list, DataColumn{"probe_" + p.Name + "_pct", 0, func(s *Sample) int64 { return int64(s.ProbePct[i]) }})
		}
	}
	return append(list, DataColumn{"energy_kwh", 3, func(s *Sample) int64 { return s.EnergyWh }})
}

// lineColumns are the voltages of the lines, numbered where there are several.
func lineColumns(name string, l *Lines, of func(*Sample) *[3]int32) []DataColumn {
	var list []DataColumn
	for i := range l.Count {
		column := name + "_v"
		if l.Count > 1 {
			column = name + "_l" + string(rune('1'+i)) + "_v"
		}
		list = append(list, DataColumn{column, 1, func(s *Sample) int64 { return int64(of(s)[i]) }})
	}
	return list
}

// LoggedData are the samples that the card keeps, and how many are lost.
func (c *Card) LoggedData() (kept []Sample, lost uint32) {
	if c.Data == nil {
		return nil, 0
	}
	more := max(0, len(c.Data.Samples)-c.Settings.Upkept().DataEntries)
	return c.Data.Samples[more:], c.Data.Lost + uint32(more)
}
