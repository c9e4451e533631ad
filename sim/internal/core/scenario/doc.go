// Package scenario reads scenario files: TOML in, a checked plan.Plan out.
//
// [Load] parses a file, applies the chosen variant, binds it to the tables of
// schema*.go, checks what hangs together and resolves every name. What is wrong
// is told in one line that begins with file:line:column. The struct tags of the
// schema are the only place where a key, its range, its default and its meaning
// are written down; [Reference] prints them as docs/scenario.md.
//
// The bytes of a file may come from anybody: size, nesting and number of
// values are bounded before anything costly happens.
package scenario
