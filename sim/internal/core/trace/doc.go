// Package trace writes what happened as text that is the same on every machine:
// one line an event, and after the events of an instant one line of readings
// with fixed decimals.
package trace
