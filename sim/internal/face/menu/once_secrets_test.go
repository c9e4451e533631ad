package menu_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

// piped gives a command line its secrets on the standard input, and has the card do what
// comes of it.
func piped(card *termtest.Source, by snap.Actor, line, text string) menu.Reply {
	view := func() menu.View { return menu.View{Dev: card.Device(), Now: card.Now()} }
	if _, takes := menu.TakesText(line); !takes {
		return menu.Reply{Text: "takes no text"}
	}
	r := menu.OnceWith(view(), by, line, text)
	if r.Command == nil {
		return r
	}
	result := card.Submit(*r.Command)
	return r.After(view(), result)
}

// TestSecretsOnInput: whoever works by script gives passwords on the standard input, never
// on a command line.
func TestSecretsOnInput(t *testing.T) {
	card := termtest.New()
	in := card.Submit(snap.Command{Op: snap.OpSignIn, OK: true, Text: string(snap.Local), By: snap.Actor{User: termtest.User, Role: snap.Administrator, Surface: "ssh"}})
	by := snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Administrator, Session: in.Session}
	const word = "a-word-for-it"
	if r := piped(card, by, "account add bob operator --stdin", word+"\n"); !r.OK || !strings.Contains(r.Text, "bob may sign in as operator") {
		t.Fatalf("%+v", r)
	}
	if a := card.Device().Card.Account("bob"); a == nil || !a.Check(word) || !a.MustChange || a.Role != snap.Operator {
		t.Fatalf("%+v", a)
	}
	if r := piped(card, by, "account password bob --stdin --json", "another-word\r\n"); !r.OK || !strings.Contains(r.Text, `"done": true`) || !card.Device().Card.Account("bob").Check("another-word") {
		t.Errorf("%+v", r)
	}
	if r := piped(card, by, "password --stdin", termtest.Password+"\n"+word); !r.OK || !card.Device().Card.Account(termtest.User).Check(word) {
		t.Errorf("%+v", r)
	}
	before := len(card.Commands())
	for _, x := range []struct{ line, text, part string }{
		{"account add eve operator --stdin", "", "no line for the new password"},
		{"account add eve operator --stdin", "\n", "at least"},
		{"account add eve operator --stdin", "short\n", "at least"},
		{"account add eve operator --stdin", word + "\nmore\n", "more lines"},
		{"account add eve operator --stdin", "has-a-\x07-in-it\n", "nobody can type"},
		{"account add eve operator --stdin", "no-utf-8-\xff\xfe\n", "nobody can type"},
		{"account add eve operator --stdin", strings.Repeat("x", 5000), "more than 4096 octets"},
		{"account add eve --stdin", word + "\n", "more lines"},
		{"account role bob viewer --stdin", word + "\n", "asks for no secret"},
		{"status --stdin", word + "\n", "asks for no secret"},
		{"set identity.name=x --stdin", word + "\n", "asks for no secret"},
		{"nowhere --stdin", word + "\n", "not a word"},
		{"password --stdin", word + "\n", "no line for the new password"},
	} {
		if r := piped(card, by, x.line, x.text); r.OK || !strings.Contains(r.Text, x.part) || strings.Contains(r.Text, word) {
			t.Errorf("%s: %+v, want %q", x.line, r, x.part)
		}
	}
	if n := len(card.Commands()); n != before {
		t.Errorf("%d commands by what was refused: %+v", n-before, card.Commands()[before:])
	}
	if r := piped(card, by, "password --stdin", "not-this-one\nanother-word-2\n"); r.OK || r.Text != "That is not it.\n" || card.Commands()[before].Op != snap.OpNotIt {
		t.Errorf("a wrong present password: %+v, %+v", r, card.Commands()[before:])
	}
	for line, part := range map[string]string{
		"account add eve operator": "--stdin", "account add eve operator " + word: "--stdin", "password": "--stdin",
	} {
		if text, ok := once(menu.View{Dev: card.Device(), Now: card.Now()}, line); ok || !strings.Contains(text, part) || strings.Contains(text, word) {
			t.Errorf("%s: %q", line, text)
		}
	}
	central := card.Submit(snap.Command{Op: snap.OpSignIn, OK: true, Text: "radius", By: snap.Actor{User: "cora", Role: snap.Operator, Surface: "ssh"}})
	cora := snap.Actor{Surface: "ssh", User: "cora", Role: snap.Operator, Session: central.Session}
	if r := piped(card, cora, "password --stdin", word+"\nanother-word-2\n"); r.OK || r.Text != "This card does not know your password: change it where you were given it.\n" {
		t.Errorf("a user of a server: %+v", r)
	}
	by.Role = snap.Operator
	if r := piped(card, by, "account add eve operator --stdin", word); r.OK || !strings.Contains(r.Text, "takes the role administrator") {
		t.Errorf("an operator: %+v", r)
	}
}

// TestFirstPasswordOnInput: who has the login on the label alone may change its password by
// script, and nothing else before that.
func TestFirstPasswordOnInput(t *testing.T) {
	card := termtest.New()
	card.Change(func(d *snap.Device) {
		d.Card.Accounts = []snap.Account{*d.Card.Factory}
		d.Card.Accounts[0].MustChange = true
	})
	in := card.Submit(snap.Command{Op: snap.OpSignIn, OK: true, Text: string(snap.Local), By: snap.Actor{User: "factory", Role: snap.Administrator, Surface: "ssh"}})
	by := snap.Actor{Surface: "ssh", User: "factory", Role: snap.Administrator, Session: in.Session}
	for line, text := range map[string]string{
		"account add eve operator --stdin": "a-word-for-it\n", "firmware load --stdin": "x", "import": "format = 1\n", "password --stdin --json": "on-the-label\n",
	} {
		if r := piped(card, by, line, text); r.OK || len(card.Commands()) != 1 {
			t.Errorf("%s: %+v, %+v", line, r, card.Commands()[1:])
		}
	}
	if r := piped(card, by, "password --stdin", "on-the-label\non-the-label\n"); r.OK || !strings.Contains(r.Text, "password on the label") {
		t.Errorf("%+v", r)
	}
	if r := piped(card, by, "password --stdin", "on-the-label\na-word-for-it\n"); !r.OK || !card.Device().Card.Account("factory").Check("a-word-for-it") {
		t.Errorf("%+v", r)
	}
}

// TestRefusalsSayWhatToDo: no refusal of a line leaves whoever typed it without the next
// step, and none ends in a stop of its own.
func TestRefusalsSayWhatToDo(t *testing.T) {
	card := termtest.New()
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	for line, part := range map[string]string{
		"set reach.frobnicate=1":                   "show reach lists what there is.",
		"set alerts.recipients.desk.address=a@b.c": "add alerts.recipients desk makes one.",
		"set identity.name":                        "there is no value",
		"set identity.name=a reach.gateway":        "no = in part 2 of 2",
		"add alerts.recipients desk to=a@b.c":      "its settings are address",
		"show 'identity":                           `Did you mean identity?`,
		"show staus":                               `Did you mean status?`,
		"relay on fan":                             "add surroundings.relay NAME",
	} {
		text, ok := once(v, line)
		if ok || !strings.Contains(strings.ToLower(text), strings.ToLower(part)) || strings.Contains(text, "\n.") {
			t.Errorf("%s: %q, want %q", line, text, part)
		}
	}
}
