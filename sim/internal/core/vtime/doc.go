// Package vtime is simulated time: integer ticks of one millisecond, and the
// calendar arithmetic that turns a tick into a date. Nothing here reads the
// machine's clock.
package vtime
