package sshd

import (
	"errors"
	"net/netip"
	"strings"
	"sync/atomic"
	"testing"

	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/snap"
)

// TestFoundAmiss: what was done and found something wrong answers on standard output, and
// ends with 1.
func TestFoundAmiss(t *testing.T) {
	card, addr := start(t, nil)
	c := dial(t, addr)
	sess, err := c.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	card.Refuse(snap.Result{Reason: "192.0.2.77: no answer", Amiss: true})
	var exit *gossh.ExitError
	out, err := sess.Output("ping 192.0.2.77")
	if !errors.As(err, &exit) || exit.ExitStatus() != 1 || string(out) != "192.0.2.77: no answer.\n" {
		t.Errorf("%q, %v", out, err)
	}
}

// TestShutOut: the menu knows the address that the card's network gives to a client, in a
// dialog and on a command line.
func TestShutOut(t *testing.T) {
	var elsewhere atomic.Bool
	card, addr := start(t, func(c *Config) {
		c.From = func(real netip.Addr) netip.Addr {
			elsewhere.Store(elsewhere.Load() || !real.IsLoopback())
			return netip.MustParseAddr("192.0.2.254")
		}
	})
	c := dial(t, addr)
	sess, err := c.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	var exit *gossh.ExitError
	text, err := sess.CombinedOutput("add access.allow b service=ssh network=10.0.0.0/8")
	if !errors.As(err, &exit) || exit.ExitStatus() != 2 || !strings.Contains(string(text), "your own address 192.0.2.254") {
		t.Errorf("%q, %v", text, err)
	}
	if sess, err = c.NewSession(); err != nil {
		t.Fatal(err)
	}
	sess.Stdin = strings.NewReader("add access.allow b\nssh\n10.0.0.0/8\nsave\nno\nleave\ndiscard\n")
	out, err := sess.Output("")
	if err != nil || !strings.Contains(string(out), "your own address 192.0.2.254") || len(card.Device().Card.Saved.Link().Allow) != 0 || elsewhere.Load() {
		t.Errorf("%q, %v", out, err)
	}
}
