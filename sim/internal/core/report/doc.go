// Package report says what a run came to: a [Recorder] follows the run frame by
// frame, a [Result] is written as text for people, as JSON and as JUnit.
//
// Times are simulated and decimals are fixed, so the same run gives the same
// bytes on every machine.
package report
