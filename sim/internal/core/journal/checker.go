package journal

import (
	"fmt"
	"strings"
)

// Mismatch is the first place at which a replay came to something else.
type Mismatch struct {
	Line     int    // of the journal, from 1
	Recorded string // what the journal says there, "" if its trace had ended
	Replayed string // what the replay came to, "" if its trace had ended
}

func (m *Mismatch) Error() string {
	return fmt.Sprintf("line %d: recorded %s, replayed %s", m.Line, quote(m.Recorded), quote(m.Replayed))
}

func quote(s string) string {
	if s == "" {
		return "nothing more"
	}
	return fmt.Sprintf("%q", s)
}

// Checker compares a trace with the recorded one: give it to a trace as its
// target. It never refuses a write, so that the replay goes on.
type Checker struct {
	recorded []Line
	cut      bool // nobody knows what else there would be
	next     int
	first    *Mismatch
}

// Checker is a checker of j's trace. More than a session recorded that was cut
// off is no difference.
func (j *Journal) Checker() *Checker { return &Checker{recorded: j.Trace, cut: j.Cut} }

// Write compares whole lines.
func (c *Checker) Write(p []byte) (int, error) {
	for line := range strings.Lines(string(p)) {
		c.compare(strings.TrimSuffix(line, "\n"))
	}
	return len(p), nil
}

func (c *Checker) compare(replayed string) {
	if c.first != nil {
		return
	}
	if c.next == len(c.recorded) && c.cut {
		return
	}
	if c.next == len(c.recorded) {
		c.first = &Mismatch{Line: c.end(), Replayed: replayed}
		return
	}
	if l := c.recorded[c.next]; l.Text != replayed {
		c.first = &Mismatch{Line: l.Number, Recorded: l.Text, Replayed: replayed}
		return
	}
	c.next++
}

// end is the line after the last of the recorded trace.
func (c *Checker) end() int {
	if len(c.recorded) == 0 {
		return 2 // behind the header
	}
	return c.recorded[len(c.recorded)-1].Number + 1
}

// Lines is how many lines agreed so far.
func (c *Checker) Lines() int { return c.next }

// Mismatch is the first difference after the whole replay was written, nil if
// there is none.
func (c *Checker) Mismatch() *Mismatch {
	if c.first == nil && c.next < len(c.recorded) {
		l := c.recorded[c.next]
		return &Mismatch{Line: l.Number, Recorded: l.Text}
	}
	return c.first
}
