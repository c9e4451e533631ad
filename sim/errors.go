package sim

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/report"
)

// InvalidError is a file that cannot be played because of what it says.
type InvalidError struct {
	File         string
	Line, Column int    // from 1; 0 if no place in the file is to blame
	What         string // with what would be right
	text         string
}

// Error is one line; it begins with file:line:column where there is a place.
func (e *InvalidError) Error() string { return e.text }

// invalidFile is a file of which no place is to blame.
func invalidFile(name, what string) *InvalidError {
	return &InvalidError{File: name, What: what, text: report.OneLine(name + ": " + what)}
}

// IOError is a file or address that could not be used.
type IOError struct {
	Op   string // "read", "write" or "bind"
	Path string // the file, address or thing
	Err  error
}

// Error is one line.
func (e *IOError) Error() string { return fmt.Sprintf("cannot %s %s: %v", e.Op, e.Path, e.Err) }

// Unwrap is the cause.
func (e *IOError) Unwrap() error { return e.Err }

// MismatchError is a replay that came to something else than the recorded
// session.
type MismatchError struct {
	File               string
	Line               int    // of the journal, from 1
	Recorded, Replayed string // lines of the trace, "" where it had ended
	text               string
}

// Error is one line that begins with file:line.
func (e *MismatchError) Error() string { return e.text }

// CautionError is settings that are not taken before somebody has confirmed what they
// could do to the load or to people.
type CautionError struct {
	File     string
	Cautions []string // the paths of settings and what is to be known of them, a line each
}

// Error is one line that begins with the file.
func (e *CautionError) Error() string {
	return report.OneLine(e.File + ": CAUTION: " + strings.Join(e.Cautions, " CAUTION: "))
}
