package term

// MaxLine is the longest line in bytes; the byte after it is answered by a bell.
const MaxLine = 256

// Control bytes.
const (
	ctrlC = 0x03
	ctrlD = 0x04
	bell  = 0x07
	bs    = 0x08
	lf    = '\n'
	ctrlL = 0x0c
	cr    = '\r'
	ctrlU = 0x15
	esc   = 0x1b
	del   = 0x7f
)

// Event is what a byte brought about.
type Event uint8

// Events.
const (
	None   Event = iota
	Line         // a line is complete: take it with [Editor.Take]
	Cancel       // Ctrl-C: the line was given up
	End          // Ctrl-D on an empty line
	Redraw       // Ctrl-L: prompt and line are to be shown again
)

// inside says how far the editor is in an escape sequence.
type inside uint8

const (
	plain inside = iota
	afterEsc
	afterO    // ESC O: a key in application mode, if one of its letters follows
	inCSI     // ESC [ parameters
	afterCSI2 // ESC [ [: a function key of the Linux console, one letter follows
)

// Editor turns bytes from a terminal into lines. It takes printable ASCII, which
// is all that the card's texts may hold; bytes above are refused with a bell.
// The zero value is ready. It is a value: copying it forks the dialog.
type Editor struct {
	line    [MaxLine]byte
	n       int
	hidden  bool // echo nothing: a password
	afterCR bool // the next LF belongs to the CR before it
	seq     inside
}

// Hide switches the echo of what is typed off or on.
func (e *Editor) Hide(hidden bool) { e.hidden = hidden }

// Text is the line so far, as it is shown: empty while echo is off.
func (e *Editor) Text() string {
	if e.hidden {
		return ""
	}
	return string(e.line[:e.n])
}

// Take returns the line and empties the editor.
func (e *Editor) Take() string {
	line := string(e.line[:e.n])
	e.line, e.n = [MaxLine]byte{}, 0
	return line
}

// Feed takes one byte, appends what the terminal is to show to echo, and says
// what came of it. A line end is echoed as LF: the writer makes CR LF of it.
func (e *Editor) Feed(b byte, echo []byte) ([]byte, Event) {
	if e.seq == afterO && !applicationKey(b) {
		e.seq = plain // the O was typed after a lone ESC
		echo = e.insert('O', echo)
	}
	if e.sequence(b) {
		return echo, None
	}
	second := b == lf && e.afterCR
	e.afterCR = b == cr
	switch {
	case second:
		return echo, None
	case b == cr || b == lf:
		return append(echo, lf), Line
	case b == bs || b == del:
		return e.erase(echo, 1), None
	case b == ctrlU:
		return e.erase(echo, e.n), None
	case b == ctrlC:
		e.Take()
		return append(echo, '^', 'C', lf), Cancel
	case b == ctrlD && e.n == 0:
		return append(echo, lf), End
	case b == ctrlL:
		return append(echo, lf), Redraw
	}
	return e.insert(b, echo), None
}

// sequence swallows the bytes of escape sequences. A key that is no part of one
// is not swallowed, so that a lone ESC costs nothing that is typed after it; a
// control byte always ends the sequence and counts as itself.
func (e *Editor) sequence(b byte) bool {
	was := e.seq
	e.seq = plain
	if b == esc {
		e.seq = afterEsc
		return true
	}
	if b < ' ' {
		return false
	}
	switch was {
	case afterEsc:
		switch b {
		case '[':
			e.seq = inCSI
		case 'O':
			e.seq = afterO
		}
		return e.seq != plain
	case afterO, afterCSI2:
		return true
	case inCSI:
		return e.control(b)
	}
	return false
}

// applicationKey says whether b ends ESC O: arrows, home, end, F1 to F4.
func applicationKey(b byte) bool {
	return b >= 'A' && b <= 'D' || b == 'F' || b == 'H' || b >= 'P' && b <= 'S'
}

// control takes a byte of a control sequence (ECMA-48: parameters and
// intermediates 0x20 to 0x3f, then one final byte up to 0x7e).
func (e *Editor) control(b byte) bool {
	switch {
	case b < 0x40:
		e.seq = inCSI
	case b == '[':
		e.seq = afterCSI2
	case b > 0x7e:
		return false
	}
	return true
}

func (e *Editor) insert(b byte, echo []byte) []byte {
	switch {
	case b < ' ', b >= 0x80 && b < 0xc0: // a control, or inside a character that was refused
		return echo
	case b > '~', e.n == MaxLine:
		return append(echo, bell)
	}
	e.line[e.n] = b
	e.n++
	if e.hidden {
		return echo
	}
	return append(echo, b)
}

func (e *Editor) erase(echo []byte, n int) []byte {
	for ; n > 0 && e.n > 0; n-- {
		e.n--
		e.line[e.n] = 0
		if !e.hidden {
			echo = append(echo, bs, ' ', bs)
		}
	}
	return echo
}
