package journal

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// maxLine bounds one line: a scenario of 1 MiB whose every byte is escaped.
const maxLine = 7 << 20

// maxEnd is the longest session that is replayed.
const maxEnd = engine.MaxEnd

// Journal is a journal that was read.
type Journal struct {
	Header
	Entries []engine.Entry
	Trace   []Line
	End     vtime.Tick // where the session stopped; of one that was cut off, the last that is known of it
	Cut     bool       // the session was cut off: killed, or its disk was full
}

// Line is one line of the recorded trace and where it stands in the journal.
type Line struct {
	Number int // from 1
	Text   string
}

// FormatError is a journal that cannot be replayed because of what it says.
type FormatError struct {
	Line int // from 1
	What string
}

func (e *FormatError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.What) }

// record is any line but the first.
type record struct {
	Tick    *vtime.Tick   `json:"tick"`
	Seq     uint64        `json:"seq"`
	Command *snap.Command `json:"command"`
	Trace   *string       `json:"trace"`
	End     *vtime.Tick   `json:"end"`
}

// Read reads a journal to its last line. The error is a *FormatError, or that
// of r.
func Read(r io.Reader) (*Journal, error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxLine)
	p := &parser{}
	for lines.Scan() {
		if err := p.line(lines.Bytes()); err != nil {
			return nil, err
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return nil, &FormatError{p.number + 1, fmt.Sprintf("more than %d bytes", maxLine)}
	case err != nil:
		return nil, err
	case p.number == 0:
		return nil, &FormatError{1, "the journal is empty"}
	case !p.ended && len(p.journal.Trace) == 0:
		return nil, &FormatError{p.number, "the journal stops before anything was recorded"}
	case !p.ended:
		return p.cut()
	}
	return &p.journal, nil
}

type parser struct {
	journal Journal
	number  int
	last    vtime.Tick
	seq     uint64
	ended   bool
}

func (p *parser) line(text []byte) error {
	p.number++
	if p.number == 1 {
		return p.header(text)
	}
	var r record
	if err := snap.DecodeStrict(text, &r); err != nil {
		return p.fail("not a line of a journal: " + err.Error())
	}
	switch {
	case p.ended:
		return p.fail("something follows the end")
	case r.Trace != nil && r.Command == nil && r.End == nil:
		p.journal.Trace = append(p.journal.Trace, Line{p.number, *r.Trace})
		return nil
	case r.End != nil && r.Command == nil && r.Trace == nil:
		p.ended, p.journal.End = true, *r.End
		return p.time(*r.End)
	case r.Command != nil && r.Tick != nil && r.Trace == nil && r.End == nil:
		return p.entry(engine.Entry{Tick: *r.Tick, Seq: r.Seq, Command: *r.Command})
	}
	return p.fail("neither a command, nor a line of the trace, nor the end")
}

// cut ends a journal without an end at the latest tick in it. A trace begins
// with a title and then goes forward in time.
func (p *parser) cut() (*Journal, error) {
	last := p.journal.Trace[len(p.journal.Trace)-1]
	p.journal.Cut, p.number = true, last.Number
	if at, ok := tickOf(last.Text); ok {
		if at > maxEnd {
			return nil, p.fail(fmt.Sprintf("tick %d: expected at most %d", at, maxEnd))
		}
		p.last = max(p.last, at)
	}
	p.journal.End = p.last
	return &p.journal, nil
}

// tickOf is the time at which a line of a trace begins.
func tickOf(line string) (at vtime.Tick, ok bool) {
	var h, m, s, ms uint32
	if n, _ := fmt.Sscanf(line, "%d:%02d:%02d.%03d ", &h, &m, &s, &ms); n < 4 {
		return 0, false
	}
	return vtime.Tick(h)*vtime.Hour + vtime.Tick(m)*vtime.Minute + vtime.Tick(s)*vtime.Second + vtime.Tick(ms), true
}

func (p *parser) header(text []byte) error {
	if json.Unmarshal(text, &p.journal.Header) != nil || p.journal.Version == 0 {
		if bytes.HasPrefix(text, []byte(`{"ridethrough_bundle"`)) {
			return p.fail("this is a bundle, not a journal: say with --as what to do with it, source or verbatim")
		}
		return p.fail("this is not a journal")
	}
	if p.journal.Version != Version {
		return p.fail(fmt.Sprintf("the journal has version %d; this program reads version %d", p.journal.Version, Version))
	}
	return nil
}

func (p *parser) entry(e engine.Entry) error {
	if e.Command.Op == snap.OpSave && e.Command.Settings == nil {
		return p.fail("a command to save without settings")
	}
	if e.Seq <= p.seq {
		return p.fail(fmt.Sprintf("command %d follows command %d", e.Seq, p.seq))
	}
	p.seq = e.Seq
	p.journal.Entries = append(p.journal.Entries, e)
	return p.time(e.Tick)
}

// time keeps a replay finite and in order.
func (p *parser) time(t vtime.Tick) error {
	if t < p.last || t > maxEnd {
		return p.fail(fmt.Sprintf("tick %d: expected %d to %d", t, p.last, maxEnd))
	}
	p.last = t
	return nil
}

func (p *parser) fail(what string) error { return &FormatError{p.number, what} }
