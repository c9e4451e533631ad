package sshd

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"

	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/core/image"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term/termtest"
)

// example is an image for the card of the tests, and the card told to trust it.
func example(t *testing.T, card *termtest.Source) []byte {
	t.Helper()
	card.Change(func(d *snap.Device) { d.Card.ImageKey = image.Public(5) })
	b, err := image.Make(&snap.Release{Model: card.Device().Card.Identity.Model, Version: "2.0"}, 200_000, image.Key(5))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// loads are the commands about images so far.
func loads(card *termtest.Source) []snap.Command {
	return slices.DeleteFunc(card.Commands(), func(c snap.Command) bool { return c.Op != snap.OpFirmwareLoad })
}

func ranWith(t *testing.T, c *gossh.Client, line string, in []byte) (out, errs string, code int) {
	t.Helper()
	sess, err := c.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	var o, e bytes.Buffer
	sess.Stdin, sess.Stdout, sess.Stderr = bytes.NewReader(in), &o, &e
	var exit *gossh.ExitError
	if err := sess.Run(line); errors.As(err, &exit) {
		code = exit.ExitStatus()
	} else if err != nil {
		t.Fatal(err)
	}
	return o.String(), e.String(), code
}

// TestFirmwareLoad: a good image goes in; of others the card is told why they do not.
func TestFirmwareLoad(t *testing.T) {
	card, addr := start(t, nil)
	b := example(t, card)
	c := dial(t, addr)
	for _, x := range []struct {
		line string
		in   []byte
		out  string
		errs string
		told string
	}{
		{"firmware load", b, "2.0 is in slot B", "", ""},
		{"firmware load", b[:len(b)*61/100], "", "61 %. Nothing has changed.", "61 %"},
		{"firmware load", []byte("no image at all"), "", "this is no image", "this is no image"},
		{"firmware load", nil, "", "nothing arrived", "nothing arrived"},
		{"firmware load now", b, "", "takes nothing but an image", "-"},
		{"firmware load", make([]byte, image.MaxSize+10), "", "no image has so many", "no image has so many"},
	} {
		before := len(loads(card))
		out, errs, code := ranWith(t, c, x.line, x.in)
		if !strings.Contains(out, x.out) || !strings.Contains(errs, x.errs) || (code == 0) != (x.errs == "") {
			t.Errorf("%q with %d octets: exit %d, %q, %q", x.line, len(x.in), code, out, errs)
		}
		list := loads(card)
		switch {
		case x.told == "-":
			if len(list) != before {
				t.Errorf("%q: the card was told", x.line)
			}
		case len(list) != before+1 || (list[before].Release == nil) != (x.told != "") || !strings.Contains(list[before].Text, x.told):
			t.Errorf("%q: told %+v, want %q", x.line, list[before:], x.told)
		}
	}
	if got := loads(card)[0]; got.By.User != termtest.User || got.Release.Version != "2.0" {
		t.Errorf("%+v", got)
	}
}

// TestFirmwareNeedsARole: who only looks cannot even have an image refused.
func TestFirmwareNeedsARole(t *testing.T) {
	card, addr := start(t, nil)
	b := example(t, card)
	card.Change(func(d *snap.Device) {
		d.Card.Accounts = []snap.Account{snap.NewAccount(termtest.User, snap.Operator, termtest.Password, []byte("salt"))}
	})
	c := dial(t, addr)
	for _, line := range []string{"firmware load", "firmware switch --confirm", "firmware return --confirm"} {
		if _, errs, code := ranWith(t, c, line, b); code == 0 || !strings.Contains(errs, "takes the role administrator") {
			t.Errorf("%s: exit %d, %q", line, code, errs)
		}
	}
	if out, _, code := ranWith(t, c, "firmware", nil); code != 0 || !strings.Contains(out, "runs") {
		t.Errorf("exit %d, %q", code, out)
	}
	for _, c := range card.Commands() {
		if c.Op == snap.OpFirmwareLoad || c.Op == snap.OpFirmwareSwitch || c.Op == snap.OpFirmwareReturn {
			t.Errorf("%+v", c)
		}
	}
}

// TestFirmwareCut: the connection goes while an image is on its way. The card is told,
// and nothing else happens.
func TestFirmwareCut(t *testing.T) {
	card, addr := start(t, nil)
	b := example(t, card)
	c := dial(t, addr)
	sess, err := c.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	in, err := sess.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := sess.Start("firmware load"); err != nil {
		t.Fatal(err)
	}
	if _, err := in.Write(b[:len(b)*61/100]); err != nil {
		t.Fatal(err)
	}
	c.Close()
	eventually(t, "the card is told", func() bool { return len(loads(card)) > 0 })
	if got := loads(card)[0]; got.Release != nil || !strings.Contains(got.Text, "not whole") {
		t.Errorf("%+v", got)
	}
}
