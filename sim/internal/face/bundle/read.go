package bundle

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"ridethrough/sim/internal/face/ber"
)

// Bounds of what is read, so that an endless file is refused instead of kept.
const (
	maxLine    = 4 << 20
	maxLines   = 1 << 20
	maxObjects = 16384
	maxKept    = 4 << 20 // objects of all readings together
	maxAt      = 366 * 24 * time.Hour
)

// LineError is what is wrong with a line of a bundle.
type LineError struct {
	Line int
	What string
}

// Error is one line for a person.
func (e *LineError) Error() string { return fmt.Sprintf("line %d: %s", e.Line, e.What) }

// Read reads a bundle. A last line without its end is left out, as of a recorder
// that was killed. The error is a *[LineError], or that of r.
func Read(r io.Reader) (*Bundle, error) {
	b := &reader{now: map[string]Object{}}
	in := bufio.NewReaderSize(r, 1<<16)
	sum := sha256.New()
	for n := 1; ; n++ {
		text, err := readLine(in)
		switch {
		case errors.Is(err, io.EOF):
			return b.finish(n)
		case errors.Is(err, errLong):
			return nil, &LineError{n, fmt.Sprintf("is longer than %d octets: expected a bundle of ridethrough record", maxLine)}
		case err != nil:
			return nil, err
		case n > maxLines:
			return nil, &LineError{n, fmt.Sprintf("a bundle has at most %d lines", maxLines)}
		}
		if err := b.take(n, text, sum.Sum(nil)); err != nil {
			return nil, &LineError{n, err.Error()}
		}
		sum.Write(text)
	}
}

var errLong = errors.New("line too long")

// readLine is the next line with its end; a line without one is none.
func readLine(in *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := in.ReadSlice('\n')
		line = append(line, part...)
		switch {
		case len(line) > maxLine:
			return nil, errLong
		case !errors.Is(err, bufio.ErrBufferFull):
			return line, err
		}
	}
}

// reader puts a bundle together.
type reader struct {
	Bundle
	now   map[string]Object // the latest reading
	kept  int
	ended bool
}

func (b *reader) take(n int, text, sum []byte) error {
	var l line
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&l); err != nil {
		return fmt.Errorf("is no line of a bundle: %s", short(err))
	}
	if dec.More() {
		return errors.New("has more than one JSON object")
	}
	if n == 1 {
		return b.header(&l)
	}
	return b.record(&l, sum)
}

func short(err error) string {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fmt.Sprintf("no JSON at octet %d", syntax.Offset)
	case errors.As(err, &kind):
		return fmt.Sprintf("%q cannot be a %s", kind.Field, kind.Value)
	}
	return err.Error()
}

func (b *reader) header(l *line) (err error) {
	switch {
	case l.Version == 0:
		return errors.New("is not the first line of a bundle: expected \"ridethrough_bundle\"")
	case l.Version != Format:
		return fmt.Errorf("has version %d; this program reads version %d", l.Version, Format)
	case l.Scrubbed == nil || l.Interval <= 0 || l.Interval > maxAt.Milliseconds():
		return errors.New("lacks \"interval_ms\" above 0, or \"scrubbed\"")
	}
	if b.Start, err = time.Parse(time.RFC3339Nano, l.Start); err != nil {
		return fmt.Errorf("\"start\" %q is no date of RFC 3339", l.Start)
	}
	b.Interval = time.Duration(l.Interval) * time.Millisecond
	b.Version, b.Scrubbed, b.Program = l.SNMP, *l.Scrubbed, l.Program
	return nil
}

func (b *reader) record(l *line, sum []byte) error {
	switch {
	case b.ended:
		return errors.New("stands behind the end")
	case l.At == nil:
		return errors.New("lacks \"at_ms\"")
	}
	at := time.Duration(*l.At) * time.Millisecond
	if *l.At < 0 || *l.At > maxAt.Milliseconds() {
		return fmt.Errorf("\"at_ms\" %d: expected 0 to %d", *l.At, maxAt.Milliseconds())
	}
	if at < b.End && l.Notice == nil {
		return fmt.Errorf("\"at_ms\" %d: goes back behind %d", *l.At, b.End.Milliseconds())
	}
	b.End = max(b.End, at)
	switch {
	case l.Reading != nil:
		return b.reading(at, l.Reading)
	case l.Notice != nil:
		return b.notice(at, l.Notice)
	case l.Gap != nil:
		b.Gaps = append(b.Gaps, Gap{at, *l.Gap})
		return nil
	case l.End != nil:
		return b.end(l, sum)
	}
	return errors.New("has no \"reading\", \"notification\", \"gap\" or \"end\"")
}

func (b *reader) reading(at time.Duration, l *readingLine) error {
	if l.Took < 0 || l.Took > maxAt.Milliseconds() {
		return fmt.Errorf("\"took_ms\" %d cannot be", l.Took)
	}
	for _, name := range l.Gone {
		if _, ok := b.now[name]; !ok {
			return fmt.Errorf("\"gone\" names %q, which was not there", name)
		}
		delete(b.now, name)
	}
	for _, p := range l.Set {
		o, err := parsePair(p)
		if err != nil {
			return err
		}
		b.now[o.Name.String()] = o
	}
	if b.kept += len(b.now); len(b.now) > maxObjects || b.kept > maxKept {
		return fmt.Errorf("has more objects than fit: at most %d in a reading and %d in all", maxObjects, maxKept)
	}
	r := Reading{At: at, Took: time.Duration(l.Took) * time.Millisecond, Objects: make([]Object, 0, len(b.now))}
	for _, o := range b.now {
		r.Objects = append(r.Objects, o)
	}
	slices.SortFunc(r.Objects, func(a, b Object) int { return a.Name.Compare(b.Name) })
	b.Readings = append(b.Readings, r)
	return nil
}

func parsePair(p [2]string) (o Object, err error) {
	if o.Name, err = ber.ParseOID(p[0]); err != nil {
		return o, fmt.Errorf("%q is no object identifier", p[0])
	}
	if o.Value, err = parseValue(p[1]); err != nil {
		return o, fmt.Errorf("%s: %w", p[0], err)
	}
	return o, nil
}

func (b *reader) notice(at time.Duration, l *noticeLine) error {
	trap, err := ber.ParseOID(l.Trap)
	if err != nil {
		return fmt.Errorf("\"trap\" %q is no object identifier", l.Trap)
	}
	if l.Uptime < 0 || l.Uptime > 1<<32-1 || len(l.Values) > ber.MaxVarBinds {
		return errors.New("\"uptime_cs\" or the number of \"values\" cannot be")
	}
	n := Notice{At: at, Version: l.SNMP, Inform: l.Inform, Peer: l.Peer, Trap: trap, Uptime: l.Uptime}
	for _, p := range l.Values {
		o, err := parsePair(p)
		if err != nil {
			return err
		}
		n.Objects = append(n.Objects, o)
	}
	b.Notices = append(b.Notices, n)
	return nil
}

// end checks the digest of the lines before.
func (b *reader) end(l *line, sum []byte) error {
	if l.SHA256 != hex.EncodeToString(sum) {
		return errors.New("the digest is not that of the lines before: the bundle was damaged or changed")
	}
	if l.End.Readings != len(b.Readings) || l.End.Notices != len(b.Notices) || l.End.Gaps != len(b.Gaps) {
		return errors.New("the end counts other readings, notifications or gaps than there are")
	}
	b.ended = true
	return nil
}

func (b *reader) finish(n int) (*Bundle, error) {
	if n == 1 {
		return nil, &LineError{1, "is not there: expected a bundle of ridethrough record"}
	}
	b.Cut = !b.ended
	return &b.Bundle, nil
}
