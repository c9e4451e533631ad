package expect

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/phys/power"
)

// pathVariables are what the power takes its way through.
func pathVariables() []Variable {
	return []Variable{
		yesNo("ups.on_bypass", "the output is fed past the converters",
			func(s *snap.Site) bool { return s.UPS.Source == snap.SourceBypass }),
		yesNo("ups.bypass_good", "a bypass is fitted and within its window",
			func(s *snap.Site) bool { return s.UPS.BypassGood }),
		yesNo("ups.synchronised", "the inverter is in step with a good bypass",
			func(s *snap.Site) bool { return s.UPS.Synchronised }),
		yesNo("ups.high_efficiency", "the static switch feeds the output from the input",
			func(s *snap.Site) bool { return s.UPS.HighEfficiency }),
		yesNo("ups.holds_off", "the input went bad so often after it was taken back that it has to be good for longer",
			func(s *snap.Site) bool { return s.HoldsOff }),
		count("ups.lines_bad", "lines of the input that are out of tolerance",
			func(s *snap.Site) float64 { return countBad(s) }),
		number("ups.output_v", "volts of the lowest line of the output, 0 if it is off",
			func(s *snap.Site) float64 { return leastOutput(s) }),
		number("ups.output_hz", "frequency of the output, 0 if it is off",
			func(s *snap.Site) float64 { return s.Output.Frequency }),
		number("ups.overload_pct", "overload that what feeds the output has borne so far, in percent of what it bears",
			func(s *snap.Site) float64 { return s.Power.StrainPct }),
		number("ups.temp_c", "true temperature inside the unit, without its battery",
			func(s *snap.Site) float64 { return s.UnitC }),
		number("ups.longest_gap_ms", "longest gap in the output at a change of source so far",
			func(s *snap.Site) float64 { return float64(s.LongestGap) }),
		count("ups.dynamic_class", "class of output dynamic performance of IEC 62040-3 that this gap meets: 1 for none, 4 for more than 10 ms",
			func(s *snap.Site) float64 { return float64(power.DynamicClass(s.LongestGap.Seconds())) }),
		number("bypass.volts", "true RMS volts that reach the bypass, of line 1; 0 without one",
			func(s *snap.Site) float64 { return s.BypassFeed.Volts }),
		number("bypass.hz", "true frequency of that",
			func(s *snap.Site) float64 { return s.BypassFeed.Hz }),
	}
}

func countBad(s *snap.Site) float64 {
	n := 0
	for _, bad := range s.Feed.Bad {
		if bad {
			n++
		}
	}
	return float64(n)
}

func leastOutput(s *snap.Site) float64 {
	least := s.Output.Lines[0].Volts
	for i := range min(s.Output.Count, len(s.Output.Lines)) {
		least = min(least, s.Output.Lines[i].Volts)
	}
	return least
}
