package term_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/term"
)

// TestEndedByTheCard: a session that the card has ended gives nothing any more.
func TestEndedByTheCard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		r.shows("\rinstaller\rcorrect horse\r", "card> ")
		r.card.Change(func(d *snap.Device) { d.Card.Sessions = nil })
		time.Sleep(time.Second)
		r.ends(term.Ended)
		if got := r.out.take(); !strings.Contains(got, "Signed out by the card: its journal says why.") {
			t.Fatalf("%q", got)
		}
	})
}

// TestIdleAsSet: without a time-out of its own a session has that of the settings,
// also when it is set meanwhile; and the card is told that the session is over.
func TestIdleAsSet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		r.shows("\rinstaller\rcorrect horse\r", "card> ")
		time.Sleep(299 * time.Second)
		r.card.Change(func(d *snap.Device) {
			d.Card.Settings = *d.Card.Settings.Clone()
			d.Card.Settings.SignIn.Idle = 20 * vtime.Second
		})
		r.shows("status\r", "card> ")
		time.Sleep(20 * time.Second)
		r.ends(term.TimedOut)
		commands := r.card.Commands()
		if last := commands[len(commands)-1]; last.Op != snap.OpSignOut || last.By.Session != 1 || last.Text != "nothing was typed" {
			t.Errorf("%+v", last)
		}
	})
}

// TestBannerOnTheSerialLine: who is about to sign in reads it, from when it is set;
// and nobody who only has the line before the first line end.
func TestBannerOnTheSerialLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := start(t, serial())
		set := func(text string) {
			r.card.Change(func(d *snap.Device) {
				d.Card.Settings = *d.Card.Settings.Clone()
				d.Card.Settings.SignIn.Banner = text
			})
		}
		set("One site | Keep out")
		if got := r.typed("x"); got != "" {
			t.Fatalf("before the first line end: %q", got)
		}
		r.shows("\r", "\r\n\r\nOne site\r\nKeep out\r\n\r\nSign in, or type ? for help.\r\nuser: ")
		r.cancel()
		r.ends(term.Cancelled)

		r = start(t, term.Options{By: snap.Actor{Surface: "serial"}, Wake: true, Source: r.card})
		set("")
		if got := r.typed("\r"); strings.Contains(got, "Keep out") {
			t.Fatalf("%q", got)
		}
		r.cancel()
		r.ends(term.Cancelled)
	})
}
