package study

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
)

// A file of runs is lines of JSON: the header, then the runs in their order. What
// stands after the last line end was cut off in the middle of writing.

// FileError is a file of runs that cannot be used.
type FileError struct {
	Line int    // from 1; 0: none is to blame
	What string // with what to do
}

// Error is one line.
func (e *FileError) Error() string { return e.What }

func badFile(line int, format string, args ...any) error {
	return &FileError{line, fmt.Sprintf(format, args...)}
}

// File is what was read of a file of runs.
type File struct {
	Header Header
	Runs   []Run
	Whole  int64 // bytes up to the end of the last whole line
}

// Line is v as a line of a file.
func Line(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return b.Bytes(), err
}

// Lines is runs as lines of a file.
func Lines(runs []Run) ([]byte, error) {
	var all []byte
	for i := range runs {
		line, err := Line(&runs[i])
		if err != nil {
			return nil, err
		}
		all = append(all, line...)
	}
	return all, nil
}

// Bounds of what is read from outside.
const (
	maxShards = 100_000
	// MaxRuns is the most runs of a study.
	MaxRuns = 1_000_000
)

// ReadFile reads a file of runs. The error is a *FileError.
func ReadFile(text []byte) (*File, error) {
	f := &File{}
	for line := 1; ; line++ {
		end := bytes.IndexByte(text[f.Whole:], '\n')
		if end < 0 {
			break
		}
		one := text[f.Whole : f.Whole+int64(end)]
		if err := f.take(line, one); err != nil {
			return nil, err
		}
		f.Whole += int64(end) + 1
	}
	if f.Header.Format == 0 {
		return nil, badFile(1, "it is no file of runs: it has no first line")
	}
	return f, nil
}

func (f *File) take(line int, text []byte) error {
	if line == 1 {
		return f.head(text)
	}
	var r Run
	if err := strictly(text, &r); err != nil || !f.Header.fits(&r) {
		return badFile(line, "the line is no run of the study; expected run %d: delete the file and begin anew", f.next())
	}
	if r.Number != f.next() || r.Number > f.Header.Last() {
		return badFile(line, "run %d stands where run %d belongs: delete the file and begin anew", r.Number, f.next())
	}
	f.Runs = append(f.Runs, r)
	return nil
}

func (f *File) next() int { return f.Header.First() + len(f.Runs) }

func (f *File) head(text []byte) error {
	h := &f.Header
	if err := strictly(text, h); err != nil || h.Format == 0 {
		return badFile(1, "it is no file of runs: the first line is no header")
	}
	switch {
	case h.Format != Format:
		return badFile(1, "its form is %d, and this program knows %d: use the program that wrote it", h.Format, Format)
	case h.Runs < 1 || h.Runs > MaxRuns || h.Shard.Of < 1 || h.Shard.Of > maxShards || h.Shard.Part < 1 || h.Shard.Part > h.Shard.Of || len(h.Versions) == 0, h.forged():
		return badFile(1, "its header makes no sense")
	}
	return nil
}

func strictly(text []byte, to any) error {
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(to); err != nil {
		return err
	}
	if _, err := dec.Token(); err != io.EOF {
		return fmt.Errorf("more than one value")
	}
	return nil
}

// Same says in what a header differs from that of another study, "" if in nothing but
// the shard.
func (h *Header) Same(other *Header) string {
	a, b := *h, *other
	a.Shard, b.Shard = Shard{}, Shard{}
	switch {
	case a.Program != b.Program:
		return fmt.Sprintf("version %s of the program, not %s", a.Program, b.Program)
	case a.Digest != b.Digest:
		return fmt.Sprintf("another content of %s (SHA-256 %.12s, not %.12s)", a.Scenario, a.Digest, b.Digest)
	case a.Seed != b.Seed:
		return fmt.Sprintf("seed %d, not %d", a.Seed, b.Seed)
	case a.Runs != b.Runs:
		return fmt.Sprintf("%d runs, not %d", a.Runs, b.Runs)
	case !reflect.DeepEqual(a, b):
		return "other variants"
	}
	return ""
}

// Named is a file of runs with its name.
type Named struct {
	Name string
	*File
}

// Merge puts the shards of one study together, in any order. The error is a
// *FileError.
func Merge(files []Named) (*Header, []Run, error) {
	if len(files) == 0 {
		return nil, nil, badFile(0, "no shards")
	}
	first := &files[0].Header
	parts := make([]*Named, first.Shard.Of)
	for i := range files {
		f := &files[i]
		if differs := f.Header.Same(first); differs != "" {
			return nil, nil, badFile(0, "%s is of another study than %s: %s", f.Name, files[0].Name, differs)
		}
		if f.Header.Shard.Of != first.Shard.Of {
			return nil, nil, badFile(0, "%s is shard %s, but %s is shard %s: all have to be of one division", f.Name, f.Header.Shard, files[0].Name, first.Shard)
		}
		at := &parts[f.Header.Shard.Part-1]
		if *at != nil {
			return nil, nil, badFile(0, "%s and %s are both shard %s: give one of them", (*at).Name, f.Name, f.Header.Shard)
		}
		*at = f
	}
	return joined(first, parts)
}

func joined(h *Header, parts []*Named) (*Header, []Run, error) {
	var missing []string
	for i, f := range parts {
		if f == nil {
			missing = append(missing, fmt.Sprint(i+1))
		}
	}
	if len(missing) > 0 {
		return nil, nil, badFile(0, "of %d shards these are missing: %s", len(parts), listed(missing, 20))
	}
	whole := *h
	whole.Shard = Shard{1, 1}
	runs := make([]Run, 0, h.Runs)
	for _, f := range parts {
		if want := f.Header.Last() - f.Header.First() + 1; len(f.Runs) < want {
			return nil, nil, badFile(0, "%s has %d of its %d runs: let the shard go on with --resume", f.Name, len(f.Runs), want)
		}
		runs = append(runs, f.Runs...)
	}
	return &whole, runs, nil
}

// listed is the first of names, and how many more there are.
func listed(names []string, most int) string {
	text := ""
	for i, n := range names {
		if i == most {
			return text + fmt.Sprintf(" and %d more", len(names)-most)
		}
		if i > 0 {
			text += ", "
		}
		text += n
	}
	return text
}
