package menu_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

// FuzzLine gives the menu command lines, and what stands on their standard input. Whatever
// comes is answered with text that a terminal shows as it is, or with a command that has its
// sender's name; what is refused leaves none.
func FuzzLine(f *testing.F) {
	for _, line := range scriptLines(f) {
		f.Add(line, "a-word-for-it\n")
	}
	for _, line := range []string{
		"status", "show reach --json", "help reach.gateway", "set", "set a", "set identity.name=a reach.gateway", `set identity.location="a`,
		"add access.snmp-view v include=1.3.6.1", "remove access.key k", "probes pair 1 inlet", "outlet cycle front --confirm", "firmware load", "import --json",
		"password --stdin --confirm", "--stdin", "account role installer viewer", "skip x", "set-clock 2026-03-02 07:55 --confirm", "ping 192.0.2.1", "try all", "reset all --confirm",
	} {
		f.Add(line, "format = 1\n")
	}
	card := termtest.New()
	card.Change(termtest.Probes)
	in := card.Submit(snap.Command{Op: snap.OpSignIn, OK: true, Text: string(snap.Local), By: snap.Actor{User: termtest.User, Role: snap.Administrator, Surface: "ssh"}})
	by := snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Administrator, Session: in.Session}
	view := menu.View{Dev: card.Device(), Now: card.Now()}
	f.Fuzz(func(t *testing.T, line, text string) {
		var r menu.Reply
		if most, takes := menu.TakesText(line); takes {
			r = menu.OnceWith(view, by, line, text[:min(len(text), most+1)])
		} else {
			r = menu.Once(view, by, line)
		}
		if r.Command != nil {
			if r.Command.By != by {
				t.Errorf("%q: sent by %+v", line, r.Command.By)
			}
			r = r.After(view, snap.Result{Reason: "an answer"})
		}
		if r.Text != "" && (!strings.HasSuffix(r.Text, "\n") || !utf8.ValidString(r.Text)) {
			t.Errorf("%q: %q", line, r.Text)
		}
		if strings.ContainsFunc(r.Text, func(c rune) bool { return c < ' ' && c != '\n' || c == 0x7f }) {
			t.Errorf("%q: control characters in %q", line, r.Text)
		}
	})
}
