// Package playtest plays scenarios in the tests of the core: a scenario as
// text, commands at their ticks, and what came of it.
package playtest
