package menu_test

import (
	"os"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/backup"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

// scriptLines are the lines of docs/card.md under By script: what is behind ssh CARD.
func scriptLines(t testing.TB) (lines []string) {
	text, err := os.ReadFile("../../../../docs/card.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(text), "\n### By script\n")
	section, _, _ = strings.Cut(section, "\n## ")
	for row := range strings.Lines(section) {
		if rest, ok := strings.CutPrefix(row, "| `ssh CARD "); ok {
			line, _, _ := strings.Cut(rest, "`")
			lines = append(lines, strings.Trim(line, "'"))
		}
	}
	return lines
}

// TestLinesOfTheDocs: whoever copies a line of the docs is not refused.
func TestLinesOfTheDocs(t *testing.T) {
	card := termtest.New()
	in := card.Submit(snap.Command{Op: snap.OpSignIn, OK: true, Text: string(snap.Local), By: snap.Actor{User: termtest.User, Role: snap.Administrator, Surface: "ssh"}})
	by := snap.Actor{Surface: "ssh", User: termtest.User, Role: snap.Administrator, Session: in.Session}
	text := map[string]string{
		"account add anna operator --stdin": "a-word-for-it\n",
		"firmware load":                     "no image, which the menu says",
	}
	lines := scriptLines(t)
	if len(lines) < 8 {
		t.Fatalf("%q", lines)
	}
	for _, line := range lines {
		line, _, _ = strings.Cut(line, " <")
		line, _, _ = strings.Cut(line, " >")
		text["import"] = backup.Export("EX-000123", &card.Device().Card.Saved)
		view := menu.View{Dev: card.Device(), Now: card.Now()}
		var r menu.Reply
		if _, takes := menu.TakesText(line); takes {
			if text[line] == "" {
				t.Fatalf("%s: nothing to give it", line)
			}
			r = menu.OnceWith(view, by, line, text[line])
		} else {
			r = menu.Once(view, by, line)
		}
		if r.Command != nil {
			result := card.Submit(*r.Command)
			r = r.After(menu.View{Dev: card.Device(), Now: card.Now()}, result)
		}
		if refused := line == "firmware load"; r.OK == refused || refused && !strings.Contains(r.Text, "RT-IMAGE") {
			t.Errorf("%s: %+v", line, r)
		}
	}
	if d := card.Device().Card; d.Saved.Name != "ups-a" || d.Saved.Location != "Room 7, rack 1" {
		t.Errorf("%q at %q", d.Saved.Name, d.Saved.Location)
	}
}
