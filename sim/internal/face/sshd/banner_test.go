package sshd

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term/termtest"
)

const (
	banner = "Property of an invented site | Authorised users only: what you do here is recorded."
	shown  = "Property of an invented site\r\nAuthorised users only: what you do here is recorded.\r\n"
)

// TestBannerBeforeSignIn: the real client shows it to who never gets in, in lines, as
// soon as it is set and no longer than it is.
func TestBannerBeforeSignIn(t *testing.T) {
	card, addr := start(t, nil)
	for _, x := range []struct{ name, set, want string }{
		{"as it comes", "", ""},
		{"set", banner, shown},
		{"taken away", "", ""},
	} {
		card.Change(func(d *snap.Device) {
			d.Card.Settings = *d.Card.Settings.Clone()
			d.Card.Settings.SignIn.Banner = x.set
		})
		before := len(card.Commands())
		_, errs, code := run(t, openssh(t, addr, "", 1, "-o", "PreferredAuthentications=none", "127.0.0.1", "status"), "")
		// the client has CR LF of a terminal of its own for LF
		text, _, _ := strings.Cut(errs, termtest.User+"@")
		text = strings.ReplaceAll(strings.ReplaceAll(text, "\r", ""), "\n", "\r\n")
		if want := "SIMULATION - no real equipment is connected here\r\n" + x.want; code != 255 || text != want {
			t.Errorf("%s: exit %d, %q, want %q", x.name, code, text, want)
		}
		if len(card.Commands()) != before {
			t.Errorf("%s: that was a sign-in", x.name)
		}
	}
}

// TestBannerOnTheWire: its lines end as RFC 4252 section 5.4 has it.
func TestBannerOnTheWire(t *testing.T) {
	s := &Server{c: Config{Source: termtest.New()}}
	s.c.Source.(*termtest.Source).Change(func(d *snap.Device) {
		d.Card.Settings = *d.Card.Settings.Clone()
		d.Card.Settings.SignIn.Banner = banner
	})
	if got := s.banner(); got != "SIMULATION - no real equipment is connected here\r\n"+shown {
		t.Errorf("%q", got)
	}
}

// TestRefusedWithTheReason: who has proved to be a user and does not get in is told
// why; who has not is told nothing.
func TestRefusedWithTheReason(t *testing.T) {
	for _, x := range []struct {
		password string
		told     bool
	}{{termtest.Password, true}, {"wrong", false}} {
		card, addr := start(t, nil)
		card.Refuse(snap.Result{Status: snap.Denied, Reason: "anna has been signed in at the serial line for 60 s"})
		_, errs, _ := run(t, openssh(t, addr, x.password, 1, "-o", "NumberOfPasswordPrompts=1", "127.0.0.1", "status"), "")
		if strings.Contains(errs, "Refused: anna has been signed in at the serial line for 60 s.") != x.told {
			t.Errorf("%s: %q", x.password, errs)
		}
	}
}
