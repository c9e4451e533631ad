package sim_test

import (
	"bytes"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
)

// reported is the report of a scenario with its text; "" takes the shipped file.
func reported(t *testing.T, name, text string, opts ...sim.LoadOption) (html, json string) {
	t.Helper()
	var s *sim.Scenario
	var err error
	if text != "" {
		s, err = sim.Parse(name, []byte(text), opts...)
	} else {
		s, err = sim.Load(checks.Path(t, "scenarios", name), opts...)
	}
	if err != nil {
		t.Fatal(err)
	}
	r, err := sim.Run(s, sim.RunOptions{Report: true})
	if err != nil {
		t.Fatal(err)
	}
	var page, data bytes.Buffer
	if err := r.Report().HTML(&page); err != nil {
		t.Fatal(err)
	}
	if err := r.Report().JSON(&data); err != nil {
		t.Fatal(err)
	}
	return page.String(), data.String()
}

const raced = "incidents/01-mains-back-after-commit.toml"

// TestGoldenReport: the whole page with its charts, and the JSON, byte for byte, under
// every level of instructions.
func TestGoldenReport(t *testing.T) {
	page, data := reported(t, raced, "", sim.WithVariant("cancels"))
	again, _ := reported(t, raced, "", sim.WithVariant("cancels"))
	if page != again {
		t.Error("the same run gave two pages")
	}
	golden(t, filepath.Join("..", "testdata", "reports", "cancels.html"), []byte(anonymous(page)))
	chart := page[strings.Index(page, "<svg") : strings.Index(page, "</svg>")+len("</svg>\n")]
	golden(t, filepath.Join("..", "docs", "report.svg"), []byte(chart)) // the README shows it
	golden(t, filepath.Join("..", "testdata", "reports", "cancels.json"), []byte(anonymous(data)))
}

// allSettings is what changes whenever the card gets one more.
var allSettings = regexp.MustCompile(`(?s)"settings": \[.*?\n  \],`)

// anonymous is a report without the version of the program that made it, and without
// the settings that are as on a new card.
func anonymous(text string) string {
	return allSettings.ReplaceAllString(strings.ReplaceAll(text, "ridethrough "+sim.Version(), "ridethrough (devel)"), `"settings": [],`)
}

// TestReportBeginsWithWhatFailed: what was missed stands before what was met, and in the list of
// deviations; a run that met everything has none.
func TestReportBeginsWithWhatFailed(t *testing.T) {
	page, _ := reported(t, raced, "", sim.WithVariant("cancels"))
	inOrder(t, page, ">Not met<", "every host is at work in the end", "no host loses its power at work", "<h2>Deviations</h2>", "every host was started anew", "Course of the run")
	page, _ = reported(t, raced, "")
	inOrder(t, page, ">Met<", "5 of 5 expectations met", "Course of the run")
	if strings.Contains(page, "Deviations") {
		t.Error("a run that met everything has deviations")
	}
	page, _ = reported(t, "nothing.toml", "title = 't'\nrun_for = '1m'\n")
	inOrder(t, page, "Nothing claimed", "proves nothing", "Deviations", "nothing is proven")
}

func inOrder(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		at := strings.Index(text, p)
		if at < 0 {
			t.Errorf("%q is not there, or not after the part before it", p)
			return
		}
		text = text[at+len(p):]
	}
}

// TestReportEscapesAndKeepsSecrets: what a scenario says stays text, and what it keeps
// secret does not show.
func TestReportEscapesAndKeepsSecrets(t *testing.T) {
	const hostile = `<script>alert(1)</script>`
	text := "title = '" + hostile + "'\nrun_for = '5m'\n" + `
[card]
read_community = "planted-read-word"
write_community = "planted-write-word"
[card.alerts]
mail = { server = "198.51.100.25", security = "tls", user = "card", password = "planted-mail-word" }
[[host]]
name = "db"
draw_w = 300
[[at]]
time = "1m"
note = "` + hostile + `"
[[expect]]
name = "` + hostile + `"
that = "hosts_running == 1"
at = "end"
`
	page, data := reported(t, "hostile.toml", text)
	if strings.Contains(page, "<script") {
		t.Error("the page has an element of the scenario's")
	}
	for _, word := range []string{"planted-read-word", "planted-write-word", "planted-mail-word"} {
		if strings.Contains(page, word) || strings.Contains(data, word) {
			t.Errorf("%s shows", word)
		}
	}
	if !strings.Contains(data, `"access.read-community"`) {
		t.Error("the settings are not there at all")
	}
}

// TestReportOfEveryScenario: each has one.
func TestReportOfEveryScenario(t *testing.T) {
	for _, file := range checks.Scenarios(t) {
		s, err := sim.Load(file)
		if err != nil {
			t.Fatal(err)
		}
		if s.Fleet() > 0 {
			continue
		}
		r, err := sim.Run(s, sim.RunOptions{Report: true})
		if err != nil {
			continue // real processes: played by the scripts of cmd/ridethrough
		}
		var page bytes.Buffer
		if err := r.Report().HTML(&page); err != nil || page.Len() < 10_000 || page.Len() > 4_000_000 || !strings.HasSuffix(page.String(), "</html>\n") {
			t.Errorf("%s: %d bytes, %v", file, page.Len(), err)
		}
	}
}

// TestReportOfARunThatFlaps: fourteen hundred cuts of two hosts are a page of some sheets,
// and the JSON has every one.
func TestReportOfARunThatFlaps(t *testing.T) {
	page, data := reported(t, "incidents/32-generator-refused.toml", "", sim.WithVariant("timer-only"))
	if rows := strings.Count(page, "<tr>"); len(page) > 1_500_000 || rows > 300 {
		t.Errorf("%d bytes, %d rows", len(page), rows)
	}
	if !regexp.MustCompile(`Host files lost its power at work \d{4} times`).MatchString(page) || !regexp.MustCompile(`>\d{4} more are in the report as JSON`).MatchString(page) {
		t.Error("what is left out is not counted")
	}
	if n := strings.Count(data, `"how": "cut"`); n < 2000 {
		t.Errorf("the JSON has %d cuts", n)
	}
}
