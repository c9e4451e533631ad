package scenario

import (
	"fmt"
	"sort"
	"strings"
	"unicode/utf8"
)

// Problem is what is wrong with a scenario file. Line and Column count from 1;
// Column counts characters.
type Problem struct {
	File         string
	Line, Column int
	What         string // what is wrong
	Want         string // what would be right, may be empty
	Near         string // the name that was perhaps meant, may be empty
}

// Error is one line: file:line:column: what; expected ...; did you mean "x"?
func (p *Problem) Error() string {
	text := fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.What)
	if p.Want != "" {
		text += "; expected " + p.Want
	}
	if p.Near != "" {
		text += fmt.Sprintf("; did you mean %q?", p.Near)
	}
	return oneLine(text)
}

// oneLine makes every control character a space, so that nothing in a file or
// its name can forge a second line.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

// source is the text of a file, to turn offsets into positions.
type source struct {
	name   string
	text   []byte
	starts []int // offset of the first byte of each line
}

func newSource(name string, text []byte) *source {
	s := &source{name: name, text: text, starts: []int{0}}
	for i, b := range text {
		if b == '\n' {
			s.starts = append(s.starts, i+1)
		}
	}
	return s
}

// line is the line number of a byte offset.
func (s *source) line(offset int) int {
	return sort.SearchInts(s.starts, offset+1)
}

// at is a problem at a byte offset.
func (s *source) at(offset int, what, want string) *Problem {
	offset = min(max(offset, 0), len(s.text))
	line := s.line(offset)
	return &Problem{
		File: s.name, Line: line, Column: 1 + utf8.RuneCount(s.text[s.starts[line-1]:offset]),
		What: what, Want: want,
	}
}

// short is s cut for a message.
func short(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "..."
}
