// Package model is the one table of a card's variables: what each is called,
// where it stands in the tree of object identifiers, which syntax, unit and
// access it has, and how its value follows from the state of the device. The
// SNMP agent, the menu and the documentation read it; nobody repeats it.
//
// It covers RFC 1628; the system, snmp and set groups of RFC 3418; the engine of
// RFC 3411 with the counters of RFC 3412, RFC 3413 and RFC 3414; and the card's
// port as RFC 2863 wants it at least.
//
// Rules that RFC 1628 leaves open are decided here:
//   - the battery's current is positive while it discharges;
//   - measurements are rounded to the nearest step, halves away from zero; a
//     remaining time in minutes is rounded down, but is never less than 1, and
//     a countdown is rounded up, so that it reads 0 only when it has ended;
//   - what a syntax cannot carry is shown as the nearest value that it can;
//   - text outside ASCII is shown with question marks.
package model
