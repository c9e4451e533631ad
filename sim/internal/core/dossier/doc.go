// Package dossier makes the acceptance report of a run: one page for signing, and the same
// as JSON. A [Tape] follows the run; [New] puts together what it saw, the plan and the
// result. The same run gives the same bytes.
package dossier
