package battery

import "ridethrough/sim/internal/phys/num"

// ReferenceC is the temperature that ratings belong to, in degrees Celsius.
const ReferenceC = 25

// CapacityFactor is the capacity at tempC against 25 C, from -15 to 40 C and
// constant beyond: the 10-hour figures printed in data sheets of
// valve-regulated blocks (65, 86, 100 and 103 % at -15, 0, 25 and 40 C). At high
// rates cold costs more: with [ResistanceFactor] the model gives 82 % at 0 C and
// the 1-hour current, where a data sheet's chart shows about 65 %.
func CapacityFactor(tempC float64) float64 {
	return num.Interpolate([]num.Knot{{X: -15, Y: 0.65}, {X: 0, Y: 0.86}, {X: 25, Y: 1}, {X: 40, Y: 1.03}}, tempC)
}

// ResistanceFactor is the resistance at tempC against 25 C: 1 % more per kelvin
// of cold (common practice), held at 0.5 above 75 C.
func ResistanceFactor(tempC float64) float64 {
	return max(1+float64(0.01*(ReferenceC-tempC)), 0.5)
}

// LithiumCapacityFactor is the capacity of lithium iron phosphate at tempC against
// 25 C, from -20 to 45 C and constant beyond; from memory, within some points.
func LithiumCapacityFactor(tempC float64) float64 {
	return num.Interpolate([]num.Knot{{X: -20, Y: 0.65}, {X: 0, Y: 0.88}, {X: 25, Y: 1}, {X: 45, Y: 1.02}}, tempC)
}

// FloatVolts is the float voltage per cell at tempC for one that is at25 at
// 25 C: 3 mV less per kelvin, the common rule for lead-acid cells.
func FloatVolts(at25, tempC float64) float64 { return CompensatedVolts(at25, 3, tempC) }

// CompensatedVolts is the same for millivolts less per kelvin.
func CompensatedVolts(at25, millivoltsPerK, tempC float64) float64 {
	return at25 - float64(millivoltsPerK/1000*(tempC-ReferenceC))
}

// SizeFactor is by how much a battery must be larger at tempC than its rating
// at 25 C says: the cell size correction of IEEE 485, 4.4 to 48.9 C.
func SizeFactor(tempC float64) float64 {
	return num.Interpolate([]num.Knot{
		{X: 40, Y: 1.30}, {X: 50, Y: 1.19}, {X: 60, Y: 1.11}, {X: 70, Y: 1.04}, {X: 77, Y: 1},
		{X: 90, Y: 0.94}, {X: 100, Y: 0.91}, {X: 110, Y: 0.88}, {X: 120, Y: 0.86},
	}, fahrenheit(tempC))
}

// TestTimeFactor is K_T, by which the rated time of a capacity test is
// multiplied at tempC: the time-adjusted method of IEEE 450 and 1188, 4.4 to
// 48.9 C.
func TestTimeFactor(tempC float64) float64 {
	return num.Interpolate([]num.Knot{
		{X: 40, Y: 0.670}, {X: 50, Y: 0.790}, {X: 60, Y: 0.882}, {X: 70, Y: 0.955}, {X: 77, Y: 1},
		{X: 90, Y: 1.065}, {X: 100, Y: 1.112}, {X: 120, Y: 1.210},
	}, fahrenheit(tempC))
}

// TestedCapacityPct is the result of a capacity test in percent of rating:
// how long it ran against the rated time at tempC.
func TestedCapacityPct(ran, rated, tempC float64) float64 {
	return 100 * ran / float64(rated*TestTimeFactor(tempC))
}

// fahrenheit is the scale of the two tables of the standards.
func fahrenheit(tempC float64) float64 { return float64(tempC*1.8) + 32 }
