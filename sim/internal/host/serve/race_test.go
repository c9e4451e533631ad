//go:build race

package serve

// raceEnabled: under the race detector a sync.Pool drops what it is given at
// random, so that allocations cannot be counted.
const raceEnabled = true
