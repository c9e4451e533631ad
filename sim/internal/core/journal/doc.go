// Package journal is a live session on paper: the scenario's text, every
// command that the engine accepted with its tick, and the trace that came of
// it. [Read] and a [Checker] tell whether a replay comes to the same trace.
//
// The file is JSON, one value a line: a [Header], then commands and trace lines
// in the order in which they came, and last the tick at which the session
// stopped. Without that last line the session was cut off: it is repeated as far
// as it was recorded.
package journal
