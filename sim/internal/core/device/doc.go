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
// The topology is VI (IEC 62040-3): on mains the input feeds the output through
// an autotransformer that may boost or reduce, and a change between mains and
// battery leaves the output dead for a few milliseconds.
package device
