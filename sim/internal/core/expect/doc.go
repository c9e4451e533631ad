// Package expect judges a run: conditions are expressions over what the bench
// sees, expectations are temporal claims made of conditions.
//
// A [Compiler] turns the text of a condition into closures over a snapshot of
// the site. The grammar and the type rules are those of expr-lang/expr with the
// variables of [Variables] and nothing else, so that a name that does not exist
// is an error when the scenario is loaded, not a claim that silently never
// holds. For the same reason a word that a variable can never have, such as
// ups.source == "batery", is refused.
//
// A [Tracker] follows the expectations of a plan. The engine shows it the site
// at every grid point; between two of them it may compare [Tracker.Signature]
// to find the tick at which a condition changed. Following a run allocates
// nothing until an expectation is decided.
package expect
