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

// NoReading stands where there is none: a probe is lost or does not measure that, or
// nobody wanted it logged.
const NoReading = math.MinInt32

// SampleOf is what d reads at its tick of what its card is set to log, without a number.
func SampleOf(d *Device) Sample {
	s := wholeSample(d)
	s.keep(d.Card.Settings.Upkept().DataLeft)
	return s
}

func wholeSample(d *Device) Sample {
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

// LoggedData are the samples that the card keeps, and how many are lost.
func (c *Card) LoggedData() (kept []Sample, lost uint32) {
	if c.Data == nil {
		return nil, 0
	}
	more := max(0, len(c.Data.Samples)-c.Settings.Upkept().DataEntries)
	return c.Data.Samples[more:], c.Data.Lost + uint32(more)
}
