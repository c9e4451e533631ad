package card

import (
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

func signIn(user, surface string, ok bool) snap.Command {
	return snap.Command{Op: snap.OpSignIn, By: snap.Actor{Surface: surface, User: user, Peer: "192.0.2.7:4000"}, OK: ok, Text: "local"}
}

func journalOf(c *Card) string {
	text := ""
	for _, e := range c.journal.entries {
		text += e.Text + "\n"
	}
	return text
}

// TestLockOut: after five in a row the user is not looked at over the network, for as
// long as is set; at the serial line he is.
func TestLockOut(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	for i := range 5 {
		r := c.SignIn(vtime.Tick(i), signIn("technician", "ssh", false))
		if r.Status != snap.Denied || strings.Contains(r.Reason, "try again in 300 s") != (i == 4) {
			t.Errorf("try %d: %+v", i, r)
		}
	}
	if r := c.SignIn(vtime.Minute, signIn("technician", "ssh", true)); r.Status != snap.Denied || r.Reason != "too many failed sign-ins: try again in 241 s" {
		t.Errorf("locked out: %+v", r)
	}
	if r := c.SignIn(vtime.Minute, signIn("technician", "serial", true)); r.Status != snap.Done || r.Session == 0 || r.Role != snap.Administrator {
		t.Errorf("at the serial line: %+v", r)
	}
	if r := c.SignIn(5*vtime.Minute+4, signIn("technician", "ssh", true)); r.Status != snap.Done {
		t.Errorf("afterwards: %+v", r)
	}
	for range 4 { // four failures, a success: counting begins anew
		c.SignIn(6*vtime.Minute, signIn("technician", "ssh", false))
	}
	c.SignIn(6*vtime.Minute, signIn("technician", "ssh", true))
	if r := c.SignIn(6*vtime.Minute, signIn("technician", "ssh", false)); r.Reason != "user name or password is wrong" {
		t.Errorf("after a success: %+v", r)
	}
}

// TestUnlock: an administrator ends a lock-out.
func TestUnlock(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	for range 5 {
		c.SignIn(1, signIn("technician", "ssh", false))
	}
	c.ChangeAccount(2, snap.Command{Text: snap.AccountUnlock, Account: &snap.Account{User: "technician"}})
	if r := c.SignIn(3, signIn("technician", "ssh", true)); r.Status != snap.Done {
		t.Errorf("%+v", r)
	}
}

// TestFloodIsBounded: ten thousand bad sign-ins of as many users leave little behind
// and push nothing out of the journal; a user with an account keeps his count.
func TestFloodIsBounded(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	for range 4 {
		c.SignIn(1, signIn("technician", "ssh", false))
	}
	before := len(c.journal.entries)
	for i := range 10_000 {
		c.SignIn(2, signIn(fmt.Sprintf("guess-%d", i), "ssh", false))
	}
	for i := range 10_000 {
		c.SignIn(3, signIn(fmt.Sprintf("guess-%d", i/10), "ssh", false))
	}
	if n := len(c.logins.get().failed); n > strangers+1 {
		t.Errorf("%d users are remembered", n)
	}
	if n := len(c.logins.get().lockouts); n > strangers+1 {
		t.Errorf("%d lock-outs are remembered", n)
	}
	if n := len(c.journal.entries) - before; n > toldAMinute+strangers {
		t.Errorf("%d entries of the journal in one minute", n)
	}
	if r := c.SignIn(4, signIn("technician", "ssh", false)); !strings.Contains(r.Reason, "try again") {
		t.Errorf("strangers made the card forget: %+v", r)
	}
	if !strings.Contains(journalOf(c), "technician (ssh from 192.0.2.7:4000), 5 times in a row: locked out for 5m0s") {
		t.Errorf("the lock-out of an account went under:\n%s", journalOf(c))
	}
	c.summarise(2 * vtime.Minute)
	if !strings.Contains(journalOf(c), "more within a minute") {
		t.Error("nobody tells how many there were")
	}
}

// TestSessions: as many over the network as are set, one more at the serial line, and
// one of each user's that was changed ends.
func TestSessions(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	var last snap.Result
	for range 4 {
		if last = c.SignIn(1, signIn("technician", "ssh", true)); last.Status != snap.Done {
			t.Fatalf("%+v", last)
		}
	}
	if r := c.SignIn(1, signIn("technician", "ssh", true)); r.Status != snap.Denied || !strings.Contains(r.Reason, "4 are signed in") {
		t.Errorf("a fifth: %+v", r)
	}
	for range 2 { // the second takes the place of the first: it is one plug
		if r := c.SignIn(1, signIn("technician", "serial", true)); r.Status != snap.Done {
			t.Errorf("serial: %+v", r)
		}
	}
	if n := len(c.logins.get().sessions); n != 5 {
		t.Errorf("%d sessions", n)
	}
	c.SignOut(2, snap.Actor{Surface: "ssh", User: "technician", Session: last.Session}, "")
	if r := c.SignIn(2, signIn("technician", "ssh", true)); r.Status != snap.Done || r.Session == last.Session {
		t.Errorf("after one left: %+v", r)
	}
	by := snap.Actor{Surface: "ssh", User: "technician", Role: snap.Administrator, Session: last.Session}
	if why := c.Denies(&snap.Command{Op: snap.OpRestart, By: by}); why != "that session has ended: sign in again" {
		t.Errorf("a session that has ended may: %q", why)
	}
}

// TestRoles: what each role may give, and that nobody may without one.
func TestRoles(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	test := []snap.Assignment{{Var: snap.VarTestID}, {Var: snap.VarTestSpinLock}}
	config := []snap.Assignment{{Var: snap.VarLowBattTime}}
	for _, row := range []struct {
		cmd   snap.Command
		least snap.Role
	}{
		{snap.Command{Op: snap.OpSet, Sets: test}, snap.Operator},
		{snap.Command{Op: snap.OpSet, Sets: config}, snap.Administrator},
		{snap.Command{Op: snap.OpSave}, snap.Administrator},
		{snap.Command{Op: snap.OpRestart}, snap.Administrator},
		{snap.Command{Op: snap.OpReset}, snap.Administrator},
		{snap.Command{Op: snap.OpAccount, Text: snap.AccountAdd, Account: &snap.Account{User: "x"}}, snap.Administrator},
		{snap.Command{Op: snap.OpAccount, Text: snap.AccountPassword, Account: &snap.Account{User: "other"}}, snap.Administrator},
		{snap.Command{Op: snap.OpAccount, Text: snap.AccountPassword, Account: &snap.Account{User: "me"}}, snap.Viewer},
		{snap.Command{Op: "something new"}, snap.Operator},
	} {
		for _, role := range []snap.Role{snap.NoRole, snap.Viewer, snap.Operator, snap.Administrator} {
			row.cmd.By = snap.Actor{Surface: "ssh", User: "me", Role: role}
			if why := c.Denies(&row.cmd); (why == "") != (role >= row.least) {
				t.Errorf("%s %s as %s: %q", row.cmd.Op, row.cmd.Text, role, why)
			}
		}
		row.cmd.By = snap.Actor{Surface: "snmp"}
		if why := c.Denies(&row.cmd); why != "" {
			t.Errorf("SNMP has views of its own, and is denied %s: %s", row.cmd.Op, why)
		}
	}
}

// TestAccounts: what is refused, and that the last administrator stays.
func TestAccounts(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	change := func(verb, user string, role snap.Role) string {
		return c.ChangeAccount(1, snap.Command{Text: verb, Account: &snap.Account{User: user, Role: role}, By: snap.Actor{User: "technician"}}).Reason
	}
	for _, row := range []struct {
		verb, user string
		role       snap.Role
		want       string
	}{
		{snap.AccountRemove, "technician", 0, "last administrator"},
		{snap.AccountRole, "technician", snap.Operator, "last administrator"},
		{snap.AccountAdd, "technician", snap.Viewer, "there is an account"},
		{snap.AccountAdd, "two words", snap.Viewer, "without blanks"},
		{snap.AccountAdd, "anna", snap.NoRole, "one of the roles"},
		{snap.AccountRole, "nobody", snap.Viewer, "there is no account"},
		{"rename", "technician", 0, "no change of accounts"},
		{snap.AccountAdd, "anna", snap.Viewer, ""},
		{snap.AccountRole, "anna", snap.Administrator, ""},
		{snap.AccountRemove, "technician", 0, ""},
		{snap.AccountRemove, "anna", 0, "last administrator"},
	} {
		if got := change(row.verb, row.user, row.role); row.want == "" && got != "" || !strings.Contains(got, row.want) {
			t.Errorf("%s %s: %q, want %q", row.verb, row.user, got, row.want)
		}
	}
	for i := range snap.MaxAccounts {
		why := change(snap.AccountAdd, fmt.Sprintf("user-%d", i), snap.Viewer)
		if (why != "") != (i >= snap.MaxAccounts-1) {
			t.Errorf("account %d: %q", i, why)
		}
	}
}

// TestMustChange: with the password of the label nothing goes but another one.
func TestMustChange(t *testing.T) {
	b := newBench(snap.AddressFixed)
	c := b.card
	c.kept.Accounts[0].MustChange = true
	r := c.SignIn(1, signIn("technician", "ssh", true))
	by := snap.Actor{Surface: "ssh", User: "technician", Role: r.Role, Session: r.Session}
	if why := c.Denies(&snap.Command{Op: snap.OpSave, By: by}); why != "the password has to be changed first" {
		t.Errorf("save: %q", why)
	}
	a := snap.NewAccount("technician", snap.NoRole, "another one", []byte("a salt of 16 octets")).Made()
	cmd := snap.Command{Op: snap.OpAccount, Text: snap.AccountPassword, Account: &a, By: by}
	if why := c.Denies(&cmd); why != "" {
		t.Fatal(why)
	}
	if r := c.ChangeAccount(2, cmd); r.Status != snap.Done {
		t.Fatal(r.Reason)
	}
	if why := c.Denies(&snap.Command{Op: snap.OpSave, By: by}); why != "" {
		t.Errorf("afterwards: %q", why)
	}
	var d snap.Device
	c.View(&d)
	if !d.Card.SignIn("technician", "another one") || d.Card.SignIn("technician", Password(1, "RT0001")) || d.Card.Accounts[0].Role != snap.Administrator {
		t.Errorf("%+v", d.Card.Accounts)
	}
}

// TestPresentPassword: wrong answers to the question for the present password are
// counted with the failed sign-ins, are in the journal, and after five in a row the
// session ends and nobody is looked at any more. A session that is none counts
// nothing.
func TestPresentPassword(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	c.SignIn(1, signIn("technician", "ssh", false))
	other := c.SignIn(2, signIn("technician", "serial", true))
	open := c.SignIn(3, signIn("technician", "ssh", true)) // forgives the first
	by := signIn("technician", "ssh", true).By
	by.Session, by.Role = open.Session, open.Role
	stranger := by
	stranger.User = "anna"
	for range 9 {
		if r := c.NotIt(4, stranger); r.Status != snap.Denied {
			t.Errorf("with the session of somebody else: %+v", r)
		}
	}
	for i := range 4 {
		if r := c.NotIt(5, by); r.Status != snap.Done || c.session(by.Session) == nil {
			t.Errorf("%d: %+v", i, r)
		}
	}
	if r := c.NotIt(6, by); r.Status != snap.Denied || r.Reason != "too many failed sign-ins: try again in 300 s" || c.session(by.Session) != nil {
		t.Errorf("the fifth: %+v", r)
	}
	if r := c.SignIn(7, signIn("technician", "ssh", true)); r.Status != snap.Denied {
		t.Errorf("the right password afterwards: %+v", r)
	}
	if c.session(other.Session) == nil || c.SignIns().Refused != 7 || c.SignIns().Lockouts != 1 {
		t.Errorf("another session ended, or %+v", c.SignIns())
	}
	for _, want := range []string{
		"sign-in refused: technician, administrator (ssh from 192.0.2.7:4000), who wants to change the password\n",
		"who wants to change the password, 5 times in a row: locked out for 5m0s\n", "sign-out technician", ", locked out\n",
	} {
		if !strings.Contains(journalOf(c), want) {
			t.Errorf("%q is not in\n%s", want, journalOf(c))
		}
	}
	if r := c.NotIt(8, by); r.Status != snap.Denied {
		t.Errorf("after the end: %+v", r)
	}
}

// TestPresentPasswordForgives: who knows the present password after all begins anew.
func TestPresentPasswordForgives(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	open := c.SignIn(1, signIn("technician", "ssh", true))
	by := signIn("technician", "ssh", true).By
	by.Session, by.Role = open.Session, open.Role
	for range 3 {
		for range 4 {
			c.NotIt(2, by)
		}
		a := snap.Account{User: "technician"}.Modelled()
		if r := c.ChangeAccount(3, snap.Command{By: by, Text: snap.AccountPassword, Account: &a}); r.Status != snap.Done {
			t.Fatalf("%+v", r)
		}
	}
	if n := c.SignIns().Lockouts; n != 0 {
		t.Errorf("%d lock-outs", n)
	}
}

// TestOddUsers: what somebody tries as a user name, as SSH lets him, makes no line of
// its own in a journal or message, and takes no room there.
func TestOddUsers(t *testing.T) {
	c := newBench(snap.AddressFixed).card
	before := len(journalOf(c))
	c.SignIn(1, signIn(strings.Repeat("x", 30_000), "ssh", false))
	if text := journalOf(c); !strings.Contains(text, strings.Repeat("x", 64)+"... (ssh from 192.0.2.7:4000)") || len(text)-before > 200 {
		t.Errorf("%d octets: %.300s", len(text), text[before:])
	}
	c.SignIn(2, signIn("a\r\n<130>1 - ups-b \x1b[2J\x85\u00e9", "ssh", false))
	if text := journalOf(c)[before:]; strings.Count(text, "\n") != 2 || !strings.Contains(text, "refused: a??<130>1 - ups-b ?[2J?? (ssh") {
		t.Errorf("%q", text)
	}
}
