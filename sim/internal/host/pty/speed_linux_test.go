package pty

import (
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"ridethrough/sim/internal/core/snap"
)

// TestWrongSpeed: a terminal at another speed than the card's line sees garbage, and
// nothing that it types is understood; at the right one all is well.
func TestWrongSpeed(t *testing.T) {
	card, s := start(t, nil)
	card.Change(func(d *snap.Device) {
		d.Card.Settings.ChangeLinks(func(l *snap.LinkSettings) error { l.SerialBit = 9600; return nil })
	})
	c := plug(t, s.Path())
	set := func(speed uint32) {
		conn, err := c.f.SyscallConn()
		if err != nil {
			t.Fatal(err)
		}
		conn.Control(func(fd uintptr) {
			x, err := unix.IoctlGetTermios(int(fd), unix.TCGETS)
			if err != nil {
				t.Fatal(err)
			}
			x.Cflag = x.Cflag&^unix.CBAUD | speed
			if err := unix.IoctlSetTermios(int(fd), unix.TCSETS, x); err != nil {
				t.Fatal(err)
			}
		})
	}
	set(unix.B115200)
	c.typed("\r\r\r")
	if got := c.quiet(); strings.Contains(got, "SIMULATION") {
		t.Errorf("at a wrong speed: %q", got)
	}
	set(unix.B9600)
	c.typed("\r")
	c.until("SIMULATION")
}
