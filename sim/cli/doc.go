// Package cli is the command line: sub-commands, flags and exit codes. It is
// the only place that parses flags, and it never ends the process: [Main]
// returns the exit code.
//
// Standard output is data, standard error is talk. Files are written beside
// their name and renamed into place, so that nobody ever sees half of one; only
// a journal is written in place, so that a session that is killed leaves one.
package cli
