// Package device is the UPS and its own controller: which source feeds the
// output, when it transfers, the alarms, the low-battery point, the countdowns,
// the tests and the automatic restart, as RFC 1628 words them.
//
// A [UPS] has two parts. [Physics] is what moves between two instants: the
// battery, its temperature, the energy sums and the running estimate. It is a
// plain value, and [UPS.Advance] returns a new one, so that a caller may try a
// step and take it back. Everything else changes only at instants, in [UPS.Due]
// and in the orders put to it.
//
// The topologies of IEC 62040-3 differ in how the input feeds the output and in
// the gap when it is left, see class: VFD passes it on, VI steps its voltage up or
// down, VFI makes the output anew and has no gap. A bypass past the converters
// takes the load when they cannot, with a gap unless inverter and bypass are in
// step. What is overloaded bears it for a time that falls with the overload, and
// remembers.
package device
