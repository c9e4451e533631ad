// Package engine advances one site from instant to instant. An [Engine] is
// single-threaded: [Engine.Step] moves it, [Engine.Do] puts one command to it,
// and each returns the [Frame] that came of it. A [Loop] owns an engine from
// one goroutine, with one inbox, and publishes what the surfaces may read.
//
// The grid of a run depends on simulated state only, and every accepted command
// is stamped with the tick and the order in which it came in: a [Journal]
// replays to the same trace, byte for byte.
package engine
