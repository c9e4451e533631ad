package pty

import (
	"bytes"
	"testing"
)

// TestGarble: at the same speed all arrives; at another one it does not, and a slow
// receiver sees fewer octets than were sent, a fast one more.
func TestGarble(t *testing.T) {
	text := []byte("user: technician\r\n")
	if got := garble(text, 9600, 9600); !bytes.Equal(got, text) {
		t.Errorf("%q", got)
	}
	for _, c := range []struct{ from, to int }{{9600, 115200}, {115200, 9600}, {9600, 19200}, {19200, 9600}, {38400, 57600}} {
		got := garble(text, c.from, c.to)
		if bytes.Contains(got, []byte("user")) || c.from > c.to && len(got) > len(text) || c.from < c.to && len(got) < len(text) {
			t.Errorf("%d to %d: %d octets %q", c.from, c.to, len(got), got)
		}
	}
	if got := garble([]byte{0xff}, 9600, 9500); !bytes.Equal(got, []byte{0xff}) {
		t.Errorf("one per cent apart: %x", got)
	}
}
