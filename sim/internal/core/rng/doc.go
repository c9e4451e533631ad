// Package rng derives every random sample of a run from one master seed. Each
// purpose has a stream of its own, keyed by name, so that one more draw here
// never shifts the draws there.
package rng
