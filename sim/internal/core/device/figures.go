package device

import "ridethrough/sim/internal/phys/provenance"

// Figures are those of the unit that a scenario does not change.
func Figures() []provenance.Figure {
	const practice, memory, published, ours = provenance.Practice, provenance.Memory, provenance.Published, provenance.Ours
	return []provenance.Figure{
		{Group: "charger", Name: "lost on the way from the mains", Value: 100 * chargerLoss, Unit: "%", Kind: practice, Source: "of what it puts out"},
		{Group: "charger", Name: "share of the charge that is stored", Value: 100 * chargeEfficiency, Unit: "%", Kind: memory, Source: "coulombic, lead-acid"},
		{Group: "charger", Name: "current on float for each Ah", Value: 1000 * floatPerAh, Unit: "mA", Kind: practice, Source: "1 to 4 mA"},
		{Group: "battery", Name: "heat capacity of a block", Value: blockHeatJPerK, Unit: "J/K", Kind: memory, Source: "2.2 kg at 0.9 kJ/kg/K"},
		{Group: "battery", Name: "conductance of a block to the room", Value: blockCoolWPerK, Unit: "W/K", Kind: memory, Source: "0.060 m2 at 8 W/m2/K, free air"},
		{Group: "battery", Name: "temperature that raises the alarm", Value: hotC, Unit: "C", Kind: practice, Source: "of the battery"},
		{Group: "windows", Name: "hysteresis of the frequency", Value: backHz, Unit: "Hz", Kind: practice, Source: "a tenth of a hertz"},
		{Group: "bypass", Name: "alive from, share of nominal", Value: 100 * rideShare, Unit: "%", Kind: published, Source: "ITI curve (2000): 70 % for 0.5 s"},
		{Group: "bypass", Name: "a dead maintenance bypass ends the output after", Value: deadAfter.Seconds(), Unit: "s", Kind: published, Source: "ITI curve (2000): 0 % for 20 ms"},
		{Group: "bypass", Name: "in step within", Value: syncWithin, Unit: "Hz", Kind: practice, Source: "the phase is taken to follow"},
		{Group: "overload", Name: "the output returns from the bypass below", Value: 100 * coolEnough, Unit: "%", Kind: practice, Source: "of what trips it"},
		{Group: "heat", Name: "converters start again below the trip point by", Value: cooler, Unit: "K", Kind: practice, Source: "hysteresis"},
		{Group: "heat", Name: "least rating in the heat", Value: 100 * leastDerating, Unit: "%", Kind: ours, Source: "so that it is never nothing"},
		{Group: "transfer", Name: "the output stays off at least for", Value: leastOff.Seconds(), Unit: "s", Kind: practice, Source: "so that every machine sees the gap"},
	}
}
