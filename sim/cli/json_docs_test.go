package cli

import (
	"context"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
)

// contract is one form of JSON, and a command line that writes it.
type contract struct {
	format  string // its first field
	heading string // of its section in docs/json.md
	args    []string
	file    string   // that it is written to; empty: standard output
	free    []string // fields whose own fields are names of other things, or another contract's
}

const fleet = "../../scenarios/fleet-outage.toml"

// prepare makes the files in dir that contracts read.
func prepare(t *testing.T, dir string) {
	t.Helper()
	for _, args := range [][]string{
		{"serve", "--quiet", "--journal", filepath.Join(dir, "journal"), "--", "true"},
		{"study", aStudy, "--runs", "40", "--compare", "waits-longer", "--shard", "1/1", "--resume", filepath.Join(dir, "shard")},
	} {
		if code, _, stderr := command(t.Context(), args...); code > exitMissed {
			t.Fatalf("%v: %s", args, stderr)
		}
	}
	playOutage(t, dir)
}

const anOutage = `title = "An outage"
run_for = "5m"
[[host]]
name = "db"
draw_w = 600
[[at]]
time = "1m"
source = { volts = 0, lasts = "2m" }
`

// playOutage puts a recorded outage into dir and serves it, with its login.
func playOutage(t *testing.T, dir string) {
	t.Helper()
	for name, text := range map[string]string{"outage.toml": anOutage, "login": "community = glimpse\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	bundle, ready := filepath.Join(dir, "outage"), filepath.Join(dir, "ready")
	if code, _, stderr := command(t.Context(), "run", "--quiet", filepath.Join(dir, "outage.toml"), "--bundle", bundle); code != exitMet {
		t.Fatal(stderr)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		command(ctx, "replay", bundle, "--as", "verbatim", "--loop", "--ready-file", ready, "--credentials", filepath.Join(dir, "login"))
	}()
	t.Cleanup(func() { stop(); <-done })
	again := time.NewTicker(pollEvery)
	defer again.Stop()
	for played(dir) == "" {
		select {
		case <-again.C:
		case <-done:
			t.Fatal("the bundle is not served")
		}
	}
}

// played is where [playOutage] serves it, "" until it does.
func played(dir string) string {
	var record struct{ Endpoints struct{ SNMP string } }
	text, err := os.ReadFile(filepath.Join(dir, "ready"))
	if err != nil || json.Unmarshal(text, &record) != nil {
		return ""
	}
	return record.Endpoints.SNMP
}

// contracts are all of them.
func contracts(dir string) []contract {
	file := func(name string) string { return filepath.Join(dir, name) }
	counts := []string{"notifications", "acknowledged", "given_up"}
	tables := []string{"result", "groups", "hosts", "conditions"}
	return []contract{
		{"ridethrough_result", "Result: `run`, `serve`, `replay`", []string{"run", "--json", "--variant", "slow-host"}, "", counts},
		{"ridethrough_result", "Result: `run`, `serve`, `replay`", []string{"serve", "--json", "--", "true"}, "", counts},
		{"ridethrough_result", "Result: `run`, `serve`, `replay`", []string{"replay", "--json", file("journal")}, "", counts},
		{"ridethrough_result", "Result: `run`, `serve`, `replay`", []string{"study", "--json", aStudy, "--only", "1"}, "", counts},
		{"ridethrough_report", "Report", []string{"run", "--quiet", "--report", file("report.json"), inBudget}, file("report.json"), tables},
		{"ridethrough_versions", "Versions: `run --variants`", []string{"run", "--json", "--variants"}, "", []string{"result"}},
		{"ridethrough_fleet", "Fleet: `run` and `serve` of a scenario with `[fleet]`", []string{"run", "--json", fleet}, "", counts},
		{"ridethrough_study", "Study: `study`, `study merge`", []string{"study", "--json", aStudy, "--runs", "40", "--compare", "waits-longer"}, "", nil},
		{"ridethrough_study", "Study: `study`, `study merge`", []string{"study", "merge", "--json", file("shard")}, "", nil},
		{"ridethrough_objects", "Objects: `objects`", []string{"objects", "--json", inrush}, "", nil},
		{"ridethrough_stage", "Staging: `stage`", []string{"stage", "--json", inrush}, "", nil},
		{"ridethrough_budget", "Budget: `budget`", []string{"budget", "--json", inBudget, "--stop-spread", "20", "--draws", "100"}, "", nil},
		{"ridethrough_listeners", "Listeners: `objects --listeners`", []string{"objects", "--listeners", "--json"}, "", nil},
		{"ridethrough_physics", "Physics: `physics`", []string{"physics", "--json", inrush}, "", nil},
		{"ridethrough_recording", "Recording: `record`", []string{"record", "--json", "--agent", played(dir), "--credentials", file("login"), "--out", file("again"), "--interval", "1s", "--for", "1s", "--rate", "100"}, "", nil},
		{"ridethrough_comparison", "Comparison: `replay --as source`", []string{"replay", file("outage"), "--as", "source", "--scenario", file("outage.toml"), "--json"}, "", []string{"result"}},
		{"ridethrough_discharge", "Discharge: `fit --base`", []string{"fit", file("outage"), "--base", "agm-12v-9ah", "--json"}, "", nil},
		{"ridethrough_fit", "Fit: `fit`", []string{"fit", "--json", aTable, "--ask", "CP,1.70,10"}, "", nil},
	}
}

// docs/json.md names what is written, and what it names is written, except what it
// says may be absent.
func TestJSONIsDocumented(t *testing.T) {
	index := section(t, "json.md", "") // before the first heading
	written, sections := map[string]map[string]bool{}, map[string]string{}
	dir := t.TempDir()
	prepare(t, dir)
	for _, c := range contracts(dir) {
		part := section(t, "json.md", c.heading)
		fields := fieldsWritten(t, c)
		if !strings.Contains(index, "| `"+c.format+"` |") || !regexp.MustCompile("\n\\| `"+c.format+"` \\|.* 1 \\|\n").MatchString(part) {
			t.Errorf("docs/json.md does not name %s with its number in the list and in %s", c.format, c.heading)
		}
		for _, name := range slices.Sorted(maps.Keys(fields)) {
			if !strings.Contains(part, "`"+name+"`") {
				t.Errorf("%v writes %q, which docs/json.md does not name in %s", c.args, name, c.heading)
			}
		}
		if sections[c.heading] = part; written[c.heading] == nil {
			written[c.heading] = map[string]bool{}
		}
		maps.Copy(written[c.heading], fields)
	}
	for heading, part := range sections {
		for _, name := range firstCells(part) {
			if !written[heading][name] {
				t.Errorf("docs/json.md names %q in %s, which is not written", name, heading)
			}
		}
	}
}

// fieldsWritten are the names of the fields of what a command writes: an object that
// begins with its format.
func fieldsWritten(t *testing.T, c contract) map[string]bool {
	t.Helper()
	_, out, stderr := command(t.Context(), c.args...)
	if c.file != "" {
		text, err := os.ReadFile(c.file)
		if err != nil {
			t.Fatal(err)
		}
		out = string(text)
	}
	if i := strings.Index(out, "}\n{"); strings.HasPrefix(out, `{"ridethrough_ready"`) && i > 0 {
		out = out[i+2:] // the ready record was before it
	}
	var v map[string]any
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		t.Fatalf("%v: %v\n%s", c.args, err, stderr)
	}
	if !strings.HasPrefix(out, "{\n  \""+c.format+"\": 1,\n") {
		t.Errorf("%v does not begin with %q: 1: %.40q", c.args, c.format, out)
	}
	fields := map[string]bool{}
	gather(v, c.free, fields)
	return fields
}

func gather(v any, free []string, fields map[string]bool) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			gather(item, free, fields)
		}
	case map[string]any:
		for name, item := range v {
			if fields[name] = true; !slices.Contains(free, name) {
				gather(item, free, fields)
			}
		}
	}
}

var quoted = regexp.MustCompile("`([^`]+)`")

// firstCells are the names in the first cells of all rows, but those that may be
// absent.
func firstCells(part string) (names []string) {
	for line := range strings.Lines(part) {
		first, rest, _ := strings.Cut(strings.TrimPrefix(line, "| "), " | ")
		if !strings.HasPrefix(line, "| `") || strings.Contains(rest, "absent") || strings.Contains(rest, "left out") {
			continue
		}
		for _, m := range quoted.FindAllStringSubmatch(first, -1) {
			names = append(names, m[1])
		}
	}
	return names
}

// Every command with --json is among the contracts.
func TestEveryCommandWithJSONIsChecked(t *testing.T) {
	have := map[string]bool{}
	for _, c := range contracts("") {
		cmd, _, err := (&app{}).root().Find(c.args)
		if err != nil {
			t.Fatal(err)
		}
		have[cmd.CommandPath()] = true
	}
	var look func(*cobra.Command)
	look = func(cmd *cobra.Command) {
		if cmd.Flags().Lookup("json") != nil && !have[cmd.CommandPath()] {
			t.Errorf("%s has --json, and no test holds it against docs/json.md", cmd.CommandPath())
		}
		for _, sub := range cmd.Commands() {
			look(sub)
		}
	}
	look((&app{}).root())
}
