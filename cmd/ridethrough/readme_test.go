package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/cli"
)

// The output that the README shows is what the command prints, and it ends with
// the code that the line before says, or else with 0.
func TestReadme(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	scenarios, err := filepath.Abs("../../scenarios")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir()) // what the examples write stays out of the repository
	if err := os.Symlink(scenarios, "scenarios"); err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)([^\n]*)\n\n```console\n\\$ go run ./cmd/ridethrough (run [^\n]*)\n(.*?)```")
	shown := block.FindAllStringSubmatch(string(text), -1)
	if len(shown) < 2 {
		t.Fatalf("%d examples of run in the README", len(shown))
	}
	failing := 0
	for _, m := range shown {
		before, command, printed := m[1], m[2], m[3]
		want := "0"
		if said := regexp.MustCompile(`exit code (\d+)`).FindStringSubmatch(before); said != nil {
			want = said[1]
			failing++
		}
		var out bytes.Buffer
		code := cli.Main(t.Context(), cli.World{Args: strings.Fields(command), Stdout: &out, Stderr: os.Stderr})
		if got := strconv.Itoa(code); got != want {
			t.Errorf("%s: exit code %s, the README says %s", command, got, want)
		}
		if diff := cmp.Diff(strings.Split(printed, "\n"), strings.Split(out.String(), "\n")); diff != "" {
			t.Errorf("%s (-README +real):\n%s", command, diff)
		}
	}
	if failing == 0 {
		t.Error("no example of the README says its exit code")
	}
}
