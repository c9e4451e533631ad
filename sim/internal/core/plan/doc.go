// Package plan is a scenario after it was read and checked: values in physical
// units, names resolved to indices, nothing left to go wrong. core/scenario
// makes it from TOML; core/site and core/engine run it.
package plan
