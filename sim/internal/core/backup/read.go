package backup

import (
	"errors"
	"fmt"
	"ridethrough/sim/internal/core/snap"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// MaxSize is the longest text that is read, in bytes.
const MaxSize = 256 << 10

// maxKeys bounds its keys and headers.
const maxKeys = 5000

// Problem is what is wrong with a text. Line and Column count from 1, Column in
// characters.
type Problem struct {
	File         string
	Line, Column int
	What         string // with what was expected
}

// Error is one line that begins with file:line:column.
func (p *Problem) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.What)
}

// File is a text that was read.
type File struct {
	name   string
	text   []byte
	serial string
	values []value
	tables []value // headers, for lists that stand there and are empty
}

// value is one key with its value as text.
type value struct {
	parts []string
	text  string
	at    int // offset of the key
}

func (v *value) path() string { return strings.Join(v.parts, ".") }

// Read reads the text of an export, which messages call name. The error is a
// *Problem.
func Read(name string, text []byte) (*File, error) {
	f := &File{name: name, text: text}
	if len(text) > MaxSize {
		return nil, f.problem(0, fmt.Sprintf("the text has %d bytes, at most %d", len(text), MaxSize))
	}
	if err := f.walk(); err != nil {
		return nil, err
	}
	var values map[string]any
	if err := toml.Unmarshal(text, &values); err != nil {
		return nil, f.notTOML(err)
	}
	if len(f.values)+len(f.tables) == 0 {
		return nil, f.problem(0, "the text is empty: expected what export has written")
	}
	return f, f.fill(values)
}

// walk finds the places of the keys. What is not TOML the decoder words.
func (f *File) walk() error {
	var p unstable.Parser
	p.Reset(f.text)
	var here []string
	for p.NextExpression() {
		e := p.Expression()
		parts, at := key(e)
		switch e.Kind {
		case unstable.Table:
			here = parts
			f.tables = append(f.tables, value{parts: parts, at: at})
		case unstable.ArrayTable:
			return f.problem(at, "[[...]] has no place here; expected [...]")
		case unstable.KeyValue:
			f.values = append(f.values, value{parts: slices.Concat(here, parts), at: at})
		}
		if len(f.values)+len(f.tables) > maxKeys {
			return f.problem(at, fmt.Sprintf("more than %d keys", maxKeys))
		}
	}
	return nil
}

func key(e *unstable.Node) (parts []string, at int) {
	for it := e.Key(); it.Next(); {
		if parts == nil {
			at = int(it.Node().Raw.Offset)
		}
		parts = append(parts, string(it.Node().Data))
	}
	return parts, at
}

// fill takes the decoded values to their keys.
func (f *File) fill(values map[string]any) error {
	rest := f.values[:0]
	for _, v := range f.values {
		found := find(values, v.parts)
		text, ok := textOf(found)
		if !ok {
			return f.problem(v.at, fmt.Sprintf("%s is no single value; expected a text", v.path()))
		}
		v.text = text
		switch v.path() {
		case formatKey:
			if text != strconv.Itoa(format) {
				return f.problem(v.at, fmt.Sprintf("the text has format %s; this card reads format %d", text, format))
			}
		case serialKey:
			f.serial = text
		default:
			rest = append(rest, v)
		}
	}
	f.values = rest
	return nil
}

func find(values any, parts []string) any {
	for _, p := range parts {
		table, ok := values.(map[string]any)
		if !ok {
			return nil
		}
		values = table[p]
	}
	return values
}

// textOf is a value as it would be typed.
func textOf(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case bool:
		if v {
			return "yes", true
		}
		return "no", true
	case int64:
		return strconv.FormatInt(v, 10), true
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64), true
	}
	return "", false
}

func (f *File) notTOML(err error) error {
	var d *toml.DecodeError
	if !errors.As(err, &d) {
		return f.problem(0, "not TOML: "+err.Error())
	}
	line, column := d.Position()
	at := 0
	for n := 1; n < line; n++ {
		at += strings.IndexByte(string(f.text[at:]), '\n') + 1
	}
	return f.problem(at+column-1, "not TOML: "+strings.TrimPrefix(d.Error(), "toml: "))
}

// problem is one at a byte of the text, in one line whatever the text holds.
func (f *File) problem(at int, what string) *Problem {
	before := string(f.text[:min(max(at, 0), len(f.text))])
	start := strings.LastIndexByte(before, '\n') + 1
	return &Problem{
		File: f.name, Line: 1 + strings.Count(before, "\n"), Column: 1 + utf8.RuneCountInString(before[start:]),
		What: oneLine(what),
	}
}

func oneLine(s string) string {
	const most = 300
	s = snap.Printable(s)
	return s[:min(len(s), most)]
}
