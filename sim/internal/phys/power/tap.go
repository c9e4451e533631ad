package power

// Tap is the setting of an autotransformer between input and output.
type Tap int8

// Taps.
const (
	Reduce Tap = -1 // output = input / ratio
	Direct Tap = 0
	Boost  Tap = 1 // output = input * ratio
)

// Volts is the output voltage of the tap at an input voltage. The ratio is more
// than 1, 1.12 to 1.2 in common practice.
func (t Tap) Volts(inputV, ratio float64) float64 {
	switch t {
	case Boost:
		return float64(inputV * ratio)
	case Reduce:
		return inputV / ratio
	}
	return inputV
}

// Amps is the input current of the tap at an output current, its own losses
// left out: what the voltage gains the current pays.
func (t Tap) Amps(outputA, ratio float64) float64 { return t.Volts(outputA, ratio) }
