package card

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ageing is a bench whose passwords serve ninety days.
func ageing(t *testing.T, change func(*snap.Settings)) *bench {
	t.Helper()
	b := newBench(snap.AddressFixed)
	b.card.clock.Set = true
	s := b.card.Saved().Clone()
	s.SignInRules().PasswordDays = 90
	change(s)
	if r := b.card.Save(0, snap.Actor{}, *s, 0); r.Status != snap.Done {
		t.Fatal(r)
	}
	b.card.agePasswords(0)
	return b
}

// TestPasswordAge: older than is allowed it opens the card for another password and nothing
// else; a public key opens it as before; another password serves as long again.
func TestPasswordAge(t *testing.T) {
	b := ageing(t, func(*snap.Settings) {})
	c := b.card
	must := func(at vtime.Tick, authority snap.Authority, want bool) snap.Session {
		t.Helper()
		cmd := signIn("technician", "ssh", true)
		cmd.Text = string(authority)
		r := c.SignIn(at, cmd)
		x := c.session(r.Session)
		if r.Status != snap.Done || x.MustChange != want || x.Expired != want {
			t.Fatalf("after %v by %s: %+v, %+v", at, authority, r, x)
		}
		by := snap.Actor{Surface: "ssh", User: "technician", Session: r.Session}
		if why := c.Denies(&snap.Command{Op: snap.OpRestart, By: by}); (why != "") != want {
			t.Errorf("after %v by %s a restart is refused: %q", at, authority, why)
		}
		return *x
	}
	must(90*aDay-1, snap.Local, false)
	must(90*aDay, snap.Key, false)
	must(90*aDay, snap.Fallback, true)
	x := must(90*aDay, snap.Local, true)
	if !strings.Contains(journalOf(c), "whose password has expired") {
		t.Error("the journal does not say so")
	}
	a := snap.NewAccount("technician", snap.NoRole, "another phrase", []byte("0123456789abcdef")).Made()
	by := snap.Actor{Surface: "ssh", User: "technician", Role: snap.Administrator, Session: x.ID}
	if r := c.ChangeAccount(91*aDay, snap.Command{Op: snap.OpAccount, Text: snap.AccountPassword, Account: &a, By: by}); r.Status != snap.Done {
		t.Fatal(r)
	}
	if x := c.session(x.ID); x == nil || x.MustChange || x.Expired {
		t.Errorf("afterwards %+v", x)
	}
	must(181*aDay-1, snap.Local, false)
	must(181*aDay, snap.Local, true)
	if c.SignIns().Refused != 0 || c.SignIns().Lockouts != 0 {
		t.Errorf("%+v: nobody is refused for the age of a password", c.SignIns())
	}
}

// TestPasswordAgeNot: never where it is off, nor by a clock that was never set; and a date is
// given to a password that has none as soon as there is one.
func TestPasswordAgeNot(t *testing.T) {
	expired := func(c *Card, at vtime.Tick) bool {
		return c.session(c.SignIn(at, signIn("technician", "ssh", true)).Session).MustChange
	}
	if b := ageing(t, func(s *snap.Settings) { s.SignInRules().PasswordDays = 0 }); expired(b.card, 4000*aDay) || b.card.account("technician").Set != 0 || b.card.terms() != nil {
		t.Error("off")
	}
	b := ageing(t, func(*snap.Settings) {})
	if b.card.clock.Set = false; expired(b.card, 100*aDay) {
		t.Error("by a clock that is not set")
	}
	b = newBench(snap.AddressFixed)
	b.card.clock.Set = false
	s := b.card.Saved().Clone()
	s.SignInRules().PasswordDays = 90
	b.card.Save(0, snap.Actor{}, *s, 0)
	b.card.agePasswords(10 * aDay)
	if b.card.account("technician").Set != 0 {
		t.Error("dated without a date")
	}
	b.card.clock.Set = true
	b.card.agePasswords(20 * aDay)
	if expired(b.card, 110*aDay-1) || !expired(b.card, 110*aDay) {
		t.Error("it counts from the day on which the clock was set")
	}
	if list := b.card.terms(); len(list) != 1 || list[0].What != "password of technician" {
		t.Errorf("%+v", list)
	}
}
