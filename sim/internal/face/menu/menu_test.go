package menu_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

func signedIn(card *termtest.Source) (menu.State, menu.View) {
	v := menu.View{Dev: card.Device(), Now: card.Now()}
	s, _ := menu.Open(v, snap.Actor{Surface: "ssh", User: termtest.User, Peer: "192.0.2.7:40000"})
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
			"192.0.2.10/24", "192.0.2.10", "/25", "192.0.2.1", "discard", "stay", "a text", "^C", "^D",
		}), rapid.String())
	rapid.Check(t, func(t *rapid.T) {
		card := termtest.New()
		s, v := signedIn(card)
		for range rapid.IntRange(1, 30).Draw(t, "lines") {
			line := typing.Draw(t, "line")
			before := v.Dev.Card.Saved
			next, out := step(s, v, line)
			if again, same := step(s, v, line); again != next || same.Text != out.Text || same.Prompt != out.Prompt {
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
			if v.Dev.Card.Saved != before && line != "save" {
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
		if next != s || !strings.Contains(out.Text, "Plain characters") {
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
	text, ok := menu.Once(menu.View{Dev: card.Device()}, "journal")
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
		text, _ := menu.Once(menu.View{Dev: card.Device()}, line)
		if got := strings.Count(text, "\n"); got != want {
			t.Errorf("%s: %d lines, want %d", line, got, want)
		}
	}
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
		{"restart", "needs a dialog", false},
		{"statsu", "Did you mean status?", false},
		{"", "Nothing", false},
	} {
		text, ok := menu.Once(v, c.line)
		if ok != c.ok || !strings.Contains(text, c.part) {
			t.Errorf("Once(%q) = %q, %v; want %q, %v", c.line, text, ok, c.part, c.ok)
		}
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
	status, _ := menu.Once(v, "status")
	values, _ := menu.Once(v, "measurements")
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
