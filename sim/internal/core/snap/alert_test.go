package snap

import (
	"flag"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
)

var update = flag.Bool("update", false, "write the table of events in docs/card.md anew")

// tableForm is a table of events in docs/card.md.
var tableForm = regexp.MustCompile(`\| event \| class \| severity \| says \|\n(\|.*\n)+`)

// TestAlertTable: every event has a row, names and words are told apart, and
// docs/card.md has the table as it is.
func TestAlertTable(t *testing.T) {
	text, err := os.ReadFile(checks.Path(t, "docs", "card.md"))
	if err != nil {
		t.Fatal(err)
	}
	want := "| event | class | severity | says |\n| --- | --- | --- | --- |\n"
	seen := map[string]bool{}
	for e := AlertEvent(1); e < AlertEvents; e++ {
		k := e.Alert()
		if k.Name == "" || seen[k.Name] || k.Begins == "" || k.Class >= AlertClasses || k.Begins == k.Ends {
			t.Errorf("event %d: %+v", e, k)
		}
		seen[k.Name] = true
		if e < AlertEvent(AlarmKinds) && (k.Name != AlarmKind(e).String() || k.Ends == "") {
			t.Errorf("%v is called %s", AlarmKind(e), k.Name)
		}
		says := k.Begins
		if k.Ends != "" {
			says += "; " + k.Ends
		}
		want += fmt.Sprintf("| `%s` | %s | %s | %s |\n", k.Name, k.Class, k.Severity, says)
		var again AlertEvent
		name, _ := e.MarshalText()
		if err := again.UnmarshalText(name); err != nil || again != e {
			t.Errorf("%s: %v, %v", name, again, err)
		}
	}
	if *update {
		anew := tableForm.ReplaceAllLiteral(text, []byte(want))
		if err := os.WriteFile(checks.Path(t, "docs", "card.md"), anew, 0o644); err != nil {
			t.Fatal(err)
		}
		text = anew
	}
	if !strings.Contains(string(text), want) {
		t.Errorf("docs/card.md has not the table as it is, -update writes it:\n%s", want)
	}
	if new(AlertEvent).UnmarshalText([]byte("nothing")) == nil {
		t.Error("an event that there is not")
	}
}

func TestAlertSets(t *testing.T) {
	for text, want := range map[string]string{
		"all": "all", "power": "power", "security, power": "power,security", strings.Join(AlertClassWords(), ","): "all",
	} {
		if s, wrong := AlertSetOf(text); s.String() != want || wrong != "" {
			t.Errorf("%q: %s, %q", text, s, wrong)
		}
	}
	for _, text := range []string{"", "power,", "battry", "ALL"} {
		if s, _ := AlertSetOf(text); s != 0 {
			t.Errorf("%q: %s", text, s)
		}
	}
	if !Critical.AtLeast(Warning) || Info.AtLeast(Warning) || !Info.AtLeast(Info) || Warning.Syslog() != 4 {
		t.Error("the order of severities")
	}
}
