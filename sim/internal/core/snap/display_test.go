package snap

import (
	"strings"
	"testing"
)

// TestDisplayString: rows of RFC 2579 DisplayString.
func TestDisplayString(t *testing.T) {
	for text, want := range map[string]bool{
		"": true, "row 7": true, "a\tb\x07\x00\x7f": true, "one\r\ntwo": true, "one\r\x00two": true, "one\ntwo": true,
		"one\rtwo": false, "one\r": false, "one\r\r\n": false, "\x80": false, "\u00e4": false,
		strings.Repeat("x", 63): true, strings.Repeat("x", 64): false,
	} {
		if why := DisplayString(text, 63); (why == "") != want {
			t.Errorf("%q: %q", text, why)
		}
	}
}
