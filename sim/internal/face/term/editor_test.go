package term

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// typed is what came of some bytes.
type typed struct {
	Echo  string
	Lines []string // complete lines; "^C", "^D" and "^L" for the other events
	Rest  string   // not yet complete
}

func typeIn(e *Editor, in string) typed {
	var x typed
	var echo []byte
	for i := range len(in) {
		var event Event
		echo, event = e.Feed(in[i], echo)
		switch event {
		case Line:
			x.Lines = append(x.Lines, e.Take())
		case Cancel:
			x.Lines = append(x.Lines, "^C")
		case End:
			x.Lines = append(x.Lines, "^D")
		case Redraw:
			x.Lines = append(x.Lines, "^L")
		}
	}
	x.Echo, x.Rest = string(echo), string(e.line[:e.n])
	return x
}

func TestEditor(t *testing.T) {
	long := strings.Repeat("x", MaxLine)
	for _, c := range []struct {
		name, in string
		want     typed
	}{
		{"CR", "a\rb", typed{"a\nb", []string{"a"}, "b"}},
		{"LF", "a\nb", typed{"a\nb", []string{"a"}, "b"}},
		{"CR LF is one line", "a\r\nb\r\n", typed{"a\nb\n", []string{"a", "b"}, ""}},
		{"LF CR is two", "a\n\r", typed{"a\n\n", []string{"a", ""}, ""}},
		{"CR CR LF is two", "\r\r\n", typed{"\n\n", []string{"", ""}, ""}},
		{"LF LF is two", "\n\n", typed{"\n\n", []string{"", ""}, ""}},
		{"backspace", "ab\bc\x7f\r", typed{"ab\b \bc\b \b\n", []string{"a"}, ""}},
		{"backspace on nothing", "\b\x7f", typed{}},
		{"Ctrl-U", "abc\x15d", typed{"abc\b \b\b \b\b \bd", nil, "d"}},
		{"Ctrl-C", "abc\x03d", typed{"abc^C\nd", []string{"^C"}, "d"}},
		{"Ctrl-D on nothing", "\x04", typed{"\n", []string{"^D"}, ""}},
		{"Ctrl-D in a line", "a\x04b", typed{"ab", nil, "ab"}},
		{"Ctrl-L", "ab\x0c", typed{"ab\n", []string{"^L"}, "ab"}},
		{"other controls", "a\x00\x01\t\x0e\x1fb", typed{"ab", nil, "ab"}},
		{"arrows", "a\x1b[A\x1b[1;5Cb", typed{"ab", nil, "ab"}},
		{"arrows in application mode", "a\x1bOA\x1bOPb", typed{"ab", nil, "ab"}},
		{"delete and paste marks", "\x1b[3~\x1b[200~a b\x1b[201~", typed{"a b", nil, "a b"}},
		{"function key of the console", "\x1b[[Aa", typed{"a", nil, "a"}},
		{"ESC eats nothing", "\x1bstatus", typed{"status", nil, "status"}},
		{"ESC and a word with O", "\x1bOff", typed{"Off", nil, "Off"}},
		{"ESC O and a line end", "\x1bO\r", typed{"O\n", []string{"O"}, ""}},
		{"ESC ESC", "\x1b\x1b[Aa", typed{"a", nil, "a"}},
		{"line end in a sequence", "\x1b[12\ra", typed{"\na", []string{""}, "a"}},
		{"Ctrl-C in a sequence", "\x1b[\x03a", typed{"^C\na", []string{"^C"}, "a"}},
		{"beyond ASCII", "a\xc3\xa9\xff", typed{"a\a\a", nil, "a"}},
		{"too long", long + "yz\b\b", typed{long + "\a\a\b \b\b \b", nil, long[:MaxLine-2]}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, typeIn(new(Editor), c.in)); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

func TestEditorHides(t *testing.T) {
	var e Editor
	e.Hide(true)
	want := typed{"\a\n", []string{"secre!"}, ""}
	if diff := cmp.Diff(want, typeIn(&e, "secret\b\x15secret\x7f!\xe2\r")); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	typeIn(&e, "secret")
	if e.Text() != "" {
		t.Error("a redrawn line shows the password")
	}
}

// TestEditorSplit: how bytes are parted into packets changes nothing.
func TestEditorSplit(t *testing.T) {
	const in = "user\r\npa\bss\x1b[A\r\n\x03status\n"
	whole := typeIn(new(Editor), in)
	for i := range len(in) {
		var e Editor
		a := typeIn(&e, in[:i])
		b := typeIn(&e, in[i:])
		if diff := cmp.Diff(whole.Lines, append(a.Lines, b.Lines...)); diff != "" {
			t.Errorf("split at %d: -want +got:\n%s", i, diff)
		}
	}
}

// FuzzEditor: any bytes leave plain text within the limit, the echo never shows
// what is hidden, and a line end always comes through.
func FuzzEditor(f *testing.F) {
	for _, s := range []string{"user\r\n", "\x1b[A\x1bOP\x1b[[C\x1b", "\xc3\xa9\xff\x9b1m", "\x03\x04\x0c\x15\x7f", "\x1b[" + strings.Repeat("1;", 300)} {
		f.Add([]byte(s), true)
		f.Add([]byte(s), false)
	}
	f.Fuzz(func(t *testing.T, in []byte, hidden bool) {
		var e Editor
		e.Hide(hidden)
		for _, b := range in {
			echo, event := e.Feed(b, nil)
			if hidden && bytes.ContainsFunc(echo, func(r rune) bool { return r >= ' ' && r != '^' && r != 'C' }) {
				t.Fatalf("hidden, but %q was echoed", echo)
			}
			if event == Line {
				plainLine(t, e.Take())
			}
		}
		if _, event := e.Feed('\r', nil); event != Line {
			t.Fatalf("a CR after %q made no line", in)
		}
		plainLine(t, e.Take())
	})
}

func plainLine(t *testing.T, line string) {
	if len(line) > MaxLine || strings.ContainsFunc(line, func(r rune) bool { return r < ' ' || r > '~' }) {
		t.Fatalf("line %q", line)
	}
}
