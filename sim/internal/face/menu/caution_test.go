package menu_test

import (
	"net/netip"
	"slices"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

var overSSH = snap.Actor{Surface: "ssh", User: termtest.User, Peer: "127.0.0.1:40000", Role: snap.Administrator}

// TestShutOut: rules that shut out whoever saves them are not saved before that is
// confirmed, by whichever way they come; others are, and so is everything at the serial
// line.
func TestShutOut(t *testing.T) {
	card := termtest.New()
	near := menu.View{Dev: card.Device(), Now: card.Now(), From: netip.MustParseAddr("192.0.2.254")}
	serial := menu.View{Dev: card.Device(), Now: card.Now()}
	const caution = "CAUTION: access.allow: you will be shut out, and this session ends: your own address 192.0.2.254 is in no network of it for ssh. The serial line stays open.\n"
	for _, x := range []struct {
		v    menu.View
		line string
		asks bool
	}{
		{near, "add access.allow b service=ssh network=10.0.0.0/8", true},
		{near, "add access.allow b service=all network=2001:db8::/32", true},
		{near, "add access.allow b service=ssh network=192.0.2.0/24", false},
		{near, "add access.allow b service=snmp network=10.0.0.0/8", false},
		{serial, "add access.allow b service=ssh network=10.0.0.0/8", false},
	} {
		r := menu.Once(x.v, overSSH, x.line)
		if asks := strings.HasPrefix(r.Text, caution); asks != x.asks || asks == (r.Command != nil) {
			t.Errorf("%s: %+v", x.line, r)
		}
		if r := menu.Once(x.v, overSSH, x.line+" --confirm"); r.Command == nil {
			t.Errorf("%s, confirmed: %+v", x.line, r)
		}
	}
	const text = "[access.allow.b]\nservice = \"ssh\"\nnetwork = \"10.0.0.0/8\"\n"
	if r := menu.OnceWith(near, overSSH, "import", text); r.Command != nil || !strings.Contains(r.Text, caution) {
		t.Errorf("import: %+v", r)
	}
	s, _ := menu.Open(near, overSSH)
	var out menu.Output
	for _, line := range []string{"add access.allow b", "ssh", "10.0.0.0/8"} {
		s, out = s.Line(near, line)
	}
	if _, shown := s.Line(near, "changes"); !strings.Contains(shown.Text, caution) {
		t.Errorf("changes: %q", shown.Text)
	}
	if s, out = s.Line(near, "save"); out.Text != caution || out.Command != nil {
		t.Errorf("save: %+v", out)
	}
	if _, out = s.Line(near, "yes"); out.Command == nil || out.Command.Op != snap.OpSave {
		t.Errorf("yes: %+v", out)
	}
}

const keyLine = "ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIAABAgMEBQYHCAkKCwwNDg8QERITFBUWFxgZGhscHR4f"

// TestWhatComesToNothing: what is saved and does nothing as it is set is saved with a note,
// and without one as soon as it does something.
func TestWhatComesToNothing(t *testing.T) {
	card := termtest.New()
	saved := func(line string) string {
		view := func() menu.View { return menu.View{Dev: card.Device(), Now: card.Now()} }
		r := menu.Once(view(), overSSH, line)
		if r.Command == nil {
			return r.Text
		}
		result := card.Submit(*r.Command)
		return r.After(view(), result).Text
	}
	for _, x := range []struct{ line, note string }{
		{"add access.snmp-user vi", "access.snmp-user.vi: its pass phrases are not all set: nobody can be this user until they are."},
		{"set access.snmp-user.vi.auth-password=eight-or-more", "access.snmp-user.vi: its pass phrases are not all set"},
		{"set access.snmp-user.vi.priv-password=eight-or-more", ""},
		{"set identity.name=x", ""},
		{"add alerts.recipients ops address=ops@example.org", "alerts.recipients.ops: no mail relay is set: nobody gets mail until alerts.mail.server is."},
		{"set alerts.mail.server=192.0.2.25 alerts.mail.from=ups@example.org alerts.recipients.ops.least=info", ""},
	} {
		got := saved(x.line)
		if !strings.HasPrefix(got, "Saved.") || (x.note == "") == strings.Contains(got, "Note:") || !strings.Contains(got, x.note) {
			t.Errorf("%s: %q, want the note %q", x.line, got, x.note)
		}
	}
}

// TestKeyOfNobody: a key of a user without an account is saved, and that it opens
// nothing is said; of one with an account nothing is.
func TestKeyOfNobody(t *testing.T) {
	const note = "Note: access.key.g: the card has no account ghost: the key opens nothing until there is one.\n"
	for user, want := range map[string]string{"ghost": "Saved.\n" + note, termtest.User: "Saved.\n"} {
		card := termtest.New()
		view := func() menu.View { return menu.View{Dev: card.Device(), Now: card.Now()} }
		r := menu.Once(view(), overSSH, `add access.key g user=`+user+` "line=`+keyLine+`"`)
		if r.Command == nil {
			t.Fatalf("%+v", r)
		}
		result := card.Submit(*r.Command)
		if r = r.After(view(), result); !r.OK || r.Text != want {
			t.Errorf("%s on a command line: %+v", user, r)
		}
		card = termtest.New()
		s, _ := menu.Open(view(), overSSH)
		var out menu.Output
		for _, line := range []string{"add access.key g", user, keyLine, "save"} {
			s, out = s.Line(view(), line)
		}
		if out.Command == nil {
			t.Fatalf("%+v", out)
		}
		c := *out.Command
		result = card.Submit(c)
		if _, out = s.Answer(view(), c, result); out.Text != want {
			t.Errorf("%s in a dialog: %q", user, out.Text)
		}
	}
}

// TestSecretsAreNotRepeated: whatever is done with a secret that stood on a line, right
// or wrong, no answer holds it.
func TestSecretsAreNotRepeated(t *testing.T) {
	card, tried := termtest.New(), 0
	card.Change(func(d *snap.Device) {
		m := d.Card.Saved.Clone()
		for _, l := range setting.Lists() {
			if l.Fixed == "" {
				if err := l.Add(m, "x"); err != nil {
					t.Fatalf("%s: %v", l.Path, err)
				}
			}
		}
		d.Card.Saved = *m
	})
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	const word = "sesame-0pen"
	for _, ref := range setting.Every(&v.Dev.Card.Saved) {
		if !ref.Secret {
			continue
		}
		tried++
		for _, value := range []string{word, word + " and more", word + "ä", word + strings.Repeat("!", 300), `"` + word} {
			said := dialog(v, "set "+ref.Path+" "+value, "changes", "show "+ref.Path, "set "+ref.Path+"="+value, "leave", "stay", "save", "?", "no", "undo")
			said = append(said, dialog(v, "edit "+ref.Path, value, "changes", "save", "?")...)
			for _, line := range []string{"set " + ref.Path + " " + value, "set " + ref.Path + "=" + value, "set " + ref.Path + "= " + value, "set " + ref.Path + " = " + value} {
				said = append(said, menu.Once(v, overSSH, line).Text, menu.Once(v, overSSH, line+" --json").Text)
			}
			if list, column, ok := strings.Cut(ref.Path, ".x."); ok {
				said = append(said, menu.Once(v, overSSH, "add "+list+" y "+column+"="+value).Text, menu.Once(v, overSSH, "add "+list+" y "+column+" "+value).Text)
			}
			text := "[" + ref.Path[:strings.LastIndex(ref.Path, ".")] + "]\n" + ref.Path[strings.LastIndex(ref.Path, ".")+1:] + " = "
			for _, toml := range []string{text + value + "\n", text + "\"" + value + "\"\n", text + "\"" + value + "\n", text + "[\"" + value + "\"]\n"} {
				said = append(said, menu.OnceWith(v, overSSH, "import", toml).Text)
			}
			if i := slices.IndexFunc(said, func(s string) bool { return strings.Contains(s, "sesame") }); i >= 0 {
				t.Errorf("%s, %.20q: %q", ref.Path, value, said[i])
			}
		}
	}
	if tried < 5 {
		t.Errorf("%d secrets tried", tried)
	}
}

// dialog is what a dialog says to lines, up to where it ends or something is to be saved.
func dialog(v menu.View, lines ...string) (said []string) {
	s, _ := menu.Open(v, overSSH)
	for _, line := range lines {
		var out menu.Output
		s, out = s.Line(v, line)
		said = append(said, out.Text, out.Prompt)
		if out.Close || out.Command != nil {
			break
		}
	}
	return said
}
