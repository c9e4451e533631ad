package menu_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

func signedIn(card *termtest.Source) (menu.State, menu.View) {
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	s, _ := menu.Open(v, snap.Actor{Surface: "ssh", User: termtest.User, Peer: "192.0.2.7:40000", Role: snap.Administrator})
	return s, v
}

// TestAnyTyping types words, answers and nonsense in any order. Whatever comes,
// a step depends on its arguments alone, never damages the card's memory, and
// always says what it waits for.
func TestAnyTyping(t *testing.T) {
	typing := rapid.OneOf(
		rapid.SampledFrom([]string{
			"", "?", "-", "status", "measurements", "alarms", "journal", "identity", "address", "name", "location",
			"contact", "unit", "communities", "changes", "undo", "save", "restart", "leave", "help", "fixed", "dhcp",
			"show", "show reach", "edit access", "edit reach.gateway", "set identity.name x", "set reach.mode fixed", "set", "add", "remove a b",
			"192.0.2.10/24", "192.0.2.10", "/25", "192.0.2.1", "discard", "stay", "a text", "^C", "^D",
		}), rapid.String())
	rapid.Check(t, func(t *rapid.T) {
		card := termtest.New()
		s, v := signedIn(card)
		for range rapid.IntRange(1, 30).Draw(t, "lines") {
			line := typing.Draw(t, "line")
			before := v.Dev.Card.Saved.Clone()
			next, out := step(s, v, line)
			if again, same := step(s, v, line); !reflect.DeepEqual(again, next) || same.Text != out.Text || same.Prompt != out.Prompt {
				t.Fatalf("%q: two runs of one step differ", line)
			}
			for out.Command != nil {
				c := *out.Command
				if c.By.User != termtest.User || c.By.Surface != "ssh" {
					t.Fatalf("command not signed: %+v", c)
				}
				result := card.Submit(c)
				v = menu.View{Dev: card.Device(), Now: card.Now()}
				next, out = next.Answer(v, c, result)
			}
			if !v.Dev.Card.Saved.Same(before) && line != "save" {
				t.Fatalf("%q changed the card's memory", line)
			}
			if out.Close {
				return
			}
			if out.Prompt == "" || out.Text != "" && !strings.HasSuffix(out.Text, "\n") {
				t.Fatalf("%q: prompt %q after text %q", line, out.Prompt, out.Text)
			}
			s = next
		}
	})
}

func step(s menu.State, v menu.View, line string) (menu.State, menu.Output) {
	switch line {
	case "^C":
		return s.Interrupt(v)
	case "^D":
		return s.End(v)
	}
	return s.Line(v, line)
}

func TestTextsArePlain(t *testing.T) {
	card := termtest.New()
	s, v := signedIn(card)
	s, _ = s.Line(v, "contact")
	for _, value := range []string{"caf\u00e9", "a\tb", "\x1b[2J", "a\x7f"} {
		next, out := s.Line(v, value)
		if !reflect.DeepEqual(next, s) || !strings.Contains(out.Text, "Plain characters") {
			t.Errorf("%q: %q", value, out.Text)
		}
	}
}

// TestJournalCannotSteerTheTerminal: user names of failed sign-ins end there.
func TestJournalCannotSteerTheTerminal(t *testing.T) {
	card := termtest.New()
	card.Change(func(d *snap.Device) {
		d.Card.Journal = []snap.JournalEntry{{Seq: 9, Text: "sign-in of \x1b]0;x\x07\u202ename"}}
	})
	text, ok := once(menu.View{Dev: card.Device()}, "journal")
	if !ok || strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && (r < ' ' || r > '~') }) {
		t.Errorf("%q", text)
	}
}

func TestLongJournal(t *testing.T) {
	card := termtest.New()
	card.Change(func(d *snap.Device) {
		d.Card.Journal = nil
		for i := range 30 {
			d.Card.Journal = append(d.Card.Journal, snap.JournalEntry{Seq: uint32(i + 1), Text: "entry"})
		}
	})
	for line, want := range map[string]int{"journal": 21, "journal 5": 6, "journal 30": 30, "journal ALL": 30, "journal 99": 30} {
		text, _ := once(menu.View{Dev: card.Device()}, line)
		if got := strings.Count(text, "\n"); got != want {
			t.Errorf("%s: %d lines, want %d", line, got, want)
		}
	}
}

// once is a command line that submits nothing.
func once(v menu.View, line string) (string, bool) {
	r := menu.Once(v, snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Administrator}, line)
	return r.Text, r.OK && r.Command == nil
}

func TestOnce(t *testing.T) {
	card := termtest.New()
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	for _, c := range []struct {
		line, part string
		ok         bool
	}{
		{"status", "source: mains", true},
		{"  MEAS ", "81.6 V", true},
		{"journal 1", "leased", true},
		{"help save", "memory", true},
		{"save", "needs a dialog", false},
		{"restart", "--confirm", false},
		{"statsu", "Did you mean status?", false},
		{"", "Nothing", false},
		{"show nowhere", "no setting \"nowhere\"", false},
		{"show nowhere --json", "no setting", false},
		{"show reach gateway", "reach takes nothing behind it", false},
		{"show access.key mine", "more than that", false},
		{"show battery twice", "battery takes nothing behind it; not \"twice\"", false},
		{"show access.key", "no public key yet", true},
		{"show access.key --json", "{}", true},
		{"status now", "status takes nothing behind it", false},
		{"probes 1", "probes takes one of pair, unpair, rename, or nothing; not \"1\"", false},
		{"firmware swich", "firmware takes one of load", false},
		{"rules event", "on_battery", true},
		{"rules everybody", "rules takes events", false},
		{"help nowhere", "not a word", false},
		{"help reach.gateway", "router", true},
		{"help outlet off", "outlet", true},
		{"ping --json", "It also asks for", false},
		{strings.Repeat("x", 3000), strings.Repeat("x", 40) + "...\" is not a word", false},
	} {
		text, ok := once(v, c.line)
		if ok != c.ok || !strings.Contains(text, c.part) {
			t.Errorf("Once(%q) = %q, %v; want %q, %v", c.line, text, ok, c.part, c.ok)
		}
	}
}

// TestOutletOnce: without a dialog an order wants its confirmation, and what is
// unusual about groups shows in what everybody reads.
// TestControlCharactersComeBackAsMarks: a refusal repeats what was typed, and steers no
// terminal by it (found by FuzzLine).
func TestControlCharactersComeBackAsMarks(t *testing.T) {
	card := termtest.New()
	card.Change(termtest.Probes)
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	for line, part := range map[string]string{
		"probes pair 1 \x00":         "probes rename inlet ?,",
		"probes pair 1 a\x1b[2J":     "probes rename inlet a?[2j,",
		"probes pair 1 \u009b2J\x7f": "probes rename inlet ?2j?,",
	} {
		if text, ok := once(v, line); ok || !strings.Contains(text, part) {
			t.Errorf("%q: %q", line, text)
		}
	}
}

func TestOutletOnce(t *testing.T) {
	card := termtest.New()
	by := snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Operator}
	ask := func(line string) menu.Reply {
		return menu.Once(menu.View{Dev: card.Device(), Now: card.Now()}, by, line)
	}
	for line, part := range map[string]string{
		"outlet off front": "Believed to be on it: mail, files.", "outlet off": "also asks for group", "outlet off back --confirm": "front, switches",
		"outlet": "one of off, on, cycle", "outlet off front now --confirm": "more than it asks for",
	} {
		if r := ask(line); r.OK || r.Command != nil || !strings.Contains(r.Text, part) {
			t.Errorf("%s: %+v", line, r)
		}
	}
	if r := ask("outlet off switches"); !strings.Contains(r.Text, "control path") {
		t.Errorf("%q", r.Text)
	}
	r := ask("outlet off front --confirm")
	if r.Command == nil || r.Command.Op != snap.OpSwitch || r.Command.Group != "front" || r.Command.Text != "off" || r.Command.By != by {
		t.Fatalf("%+v", r.Command)
	}
	card.Submit(*r.Command)
	card.Change(func(d *snap.Device) {
		d.Outlets.Locked, d.UPS.AwaitsCharge, d.Card.Settings.Restart.Pct = true, true, 30
	})
	if r := ask("status"); !strings.Contains(r.Text, "front off, as ordered; the output waits for a charge of 30 %; locked at the unit") {
		t.Errorf("%q", r.Text)
	}
	if r := ask("groups --json"); !strings.Contains(r.Text, `"cause": "order"`) || !strings.Contains(r.Text, `"locked": true`) {
		t.Errorf("%q", r.Text)
	}
	by.Role = snap.Viewer
	if r := ask("outlet on front --confirm"); r.OK || r.Command != nil || !strings.Contains(r.Text, "takes the role operator") {
		t.Errorf("a viewer: %+v", r)
	}
	if r := ask("groups"); !r.OK {
		t.Errorf("a viewer reads: %q", r.Text)
	}
}

// TestThreePhases: every line has a row of its own, and a bypass appears.
func TestThreePhases(t *testing.T) {
	card := termtest.New()
	card.Change(func(d *snap.Device) {
		d.Output.Count, d.Bypass.Count = 3, 3
		d.Output.Lines = [3]snap.Line{{Volts: 230, LoadPct: 10}, {Volts: 231, LoadPct: 20}, {Volts: 232, LoadPct: 30}}
	})
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	status, _ := once(v, "status")
	values, _ := once(v, "measurements")
	for _, want := range []string{"Load L1          10 %", "Load L3          30 %"} {
		if !strings.Contains(status, want) {
			t.Errorf("status lacks %q:\n%s", want, status)
		}
	}
	for _, want := range []string{"Output voltage L2           231 V", "Bypass frequency", "Bypass voltage L3"} {
		if !strings.Contains(values, want) {
			t.Errorf("measurements lack %q:\n%s", want, values)
		}
	}
}

// TestOnceChanges: a command line that sets submits one command, signed by who
// gave it, with all of the line in it or nothing.
func TestOnceChanges(t *testing.T) {
	card := termtest.New()
	by := snap.Actor{Surface: "ssh", User: termtest.User, Peer: "192.0.2.7:1", Role: snap.Administrator}
	view := func() menu.View { return menu.View{Dev: card.Device(), Now: card.Now()} }
	for _, c := range []struct {
		line, part string
		ok         bool
	}{
		{`set identity.contact "night desk"`, "Saved.", true},
		{`set identity.name=card-b reach.mode=fixed reach.address=192.0.2.10/24 reach.gateway=192.0.2.1`, "waits for a restart", true},
		{`set identity.name=card-c reach.gateway=192.0.3.1`, "outside the card's network", false},
		{`set identity.name=card-d reach.gatway=192.0.2.1`, "did you mean reach.gateway?", false},
		{`set identity.name card-b`, "Nothing changed.", true},
		{`set identity.name card-b --json`, `"says": "Nothing changed."`, true},
		{`set identity.location=cellar --json`, "{\n  \"done\": true,\n  \"says\": \"Saved. Not all", true},
		{`set identity.nmae=cellar --json`, `There is no setting "identity.nmae"`, false},
		{`add shutdown.group`, "The lists are alerts", false},
		{`set identity.name`, "expected a path and a value", false},
		{`set "identity.name`, "not closed", false},
		{`restart`, "--confirm says that this is meant", false},
		{`restart --confirm`, "restarts now", true},
	} {
		before := card.Device().Card.Saved.Clone()
		r := menu.Once(view(), by, c.line)
		if r.Command != nil {
			if r.Command.By != by {
				t.Errorf("%s: signed by %+v", c.line, r.Command.By)
			}
			result := card.Submit(*r.Command)
			r = r.After(view(), result)
		}
		if r.OK != c.ok || !strings.Contains(r.Text, c.part) {
			t.Errorf("%s: %v, %q", c.line, r.OK, r.Text)
		}
		if !c.ok && !card.Device().Card.Saved.Same(before) {
			t.Errorf("%s: was refused and changed something", c.line)
		}
	}
	if s := card.Device().Card.Saved; s.Name != "card-b" || s.Contact != "night desk" {
		t.Errorf("%+v", s)
	}
}

// TestOnceForPrograms: JSON of every word that reads, and never a secret.
func TestOnceForPrograms(t *testing.T) {
	card := termtest.New()
	card.OnBattery()
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	for line, part := range map[string]string{
		"status --json":       `"upsOutputSource"`,
		"measurements --json": `"value": 73.4,`,
		"alarms --json":       `"alarm": "on_battery"`,
		"journal 1 --json":    `"seq": 3`,
		"identity --json":     `"serial_number": "EX-000123"`,
		"show --json":         `"reach.mode": "dhcp"`,
		"--json show access":  `"set": true`,
		"show battery --json": `"known_capacity_pct"`,
		"show energy --json":  `"total"`,
		"hosts --json":        `[`,
		"data-log --json":     `"entries": []`,
	} {
		text, ok := once(v, line)
		if !ok || !json.Valid([]byte(text)) || !strings.Contains(text, part) || strings.Contains(text, "see-nothing") {
			t.Errorf("%s: %v\n%s", line, ok, text)
		}
	}
	if text, ok := once(v, "help --json"); ok {
		t.Errorf("%s", text)
	}
}

// TestPresentPassword: each wrong one goes to the card. Where the session ends for it
// so does the dialog, and while the user is locked out no answer is looked at, not
// even the right one.
func TestPresentPassword(t *testing.T) {
	card := termtest.New()
	s, v := signedIn(card)
	s, _ = s.Line(v, "password")
	for range 2 {
		next, out := s.Line(v, "a wrong one")
		if out.Command == nil || out.Command.Op != snap.OpNotIt || out.Command.By.User != termtest.User {
			t.Fatalf("%+v", out)
		}
		if s, out = next.Answer(v, *out.Command, snap.Result{}); out.Text != "That is not it.\n" || out.Prompt != "present password: " || !out.Hidden {
			t.Errorf("%+v", out)
		}
	}
	next, out := s.Line(v, "a wrong one")
	_, out = next.Answer(v, *out.Command, snap.Result{Status: snap.Denied, Reason: "too many failed sign-ins: try again in 300 s"})
	if !out.Close || out.Text != "Too many failed sign-ins: try again in 300 s.\n" {
		t.Errorf("locked out: %+v", out)
	}
	card.Change(func(d *snap.Device) {
		d.Card.Lockouts = []snap.Lockout{{User: termtest.User, Until: v.Now + vtime.Minute}}
	})
	v.Dev = card.Device()
	for _, typed := range []string{"a wrong one", termtest.Password} {
		if _, out := s.Line(v, typed); out.Command != nil || !strings.Contains(out.Text, "try again in 60 s") || out.Prompt != "present password: " {
			t.Errorf("%q while locked out: %+v", typed, out)
		}
	}
}

// TestKeysOutliveAnAccount: who removes an account is told of keys that would open the
// next one of that name.
func TestKeysOutliveAnAccount(t *testing.T) {
	card := termtest.New()
	s, v := signedIn(card)
	const told = "remove access.key laptop, access.key desk too"
	ask := func() string {
		_, out := s.Line(v, "account remove "+termtest.User)
		return out.Text
	}
	if text := ask(); strings.Contains(text, "keys stay") {
		t.Errorf("without keys: %q", text)
	}
	card.Change(func(d *snap.Device) {
		saved := d.Card.Saved.Clone()
		rules := *saved.SignInRules()
		rules.Keys = []snap.PublicKey{{Name: "laptop", User: termtest.User}, {Name: "hers", User: "anna"}, {Name: "desk", User: termtest.User}}
		saved.SignIn = &rules
		d.Card.Saved = *saved
	})
	v.Dev = card.Device()
	if text := ask(); !strings.Contains(text, told) || strings.Contains(text, "hers") {
		t.Errorf("%q", text)
	}
}

// TestNobodySteersTheTerminal: what somebody at the door, an SNMP manager or a server has
// written reaches the reader's terminal without control characters.
func TestNobodySteersTheTerminal(t *testing.T) {
	const evil = "\x1b[2Jgone\r\x07"
	card := termtest.New()
	s, v := signedIn(card)
	card.Change(func(d *snap.Device) {
		d.Card.Lockouts = []snap.Lockout{{User: evil, Until: v.Now + vtime.Minute}}
		d.Card.Sessions = append(slices.Clip(d.Card.Sessions), snap.Session{ID: 99, User: evil, Role: snap.Viewer, Surface: "ssh"})
		d.Card.Saved.Name, d.Card.Settings.Name = evil, evil
		d.Card.Posts = &snap.PostOffice{Done: []snap.PostLine{{State: "rejected", Text: "550 " + evil}}}
	})
	v.Dev = card.Device()
	for _, line := range []string{"sessions", "sessions --json", "messages", "messages --json", "identity", "show identity", "name", "export", "journal"} {
		_, out := s.Line(v, line)
		if text := out.Text + out.Prompt; strings.ContainsAny(text, "\x1b\r\x07") || line != "journal" && !strings.Contains(text, "gone") {
			t.Errorf("%s: %q", line, text)
		}
	}
}
