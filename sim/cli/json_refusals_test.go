package cli

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestRefusalsWithJSON: a command that would write JSON and is refused writes nothing to
// standard output and one line of text, as docs/json.md says.
func TestRefusalsWithJSON(t *testing.T) {
	dir := t.TempDir()
	prepare(t, dir)
	for _, c := range contracts(dir) {
		if !slices.Contains(c.args, "--json") {
			continue
		}
		flag := slices.Index(c.args, "--json")
		for code, args := range map[int][]string{exitUsage: slices.Insert(slices.Clone(c.args), flag, "--nonsense"), exitIO: unreadable(c.args)} {
			got, out, stderr := command(t.Context(), args...)
			line, hint, _ := strings.Cut(stderr, "\n")
			if got != code || out != "" || !strings.HasPrefix(line, "ridethrough: ") || strings.HasPrefix(line, "ridethrough: {") || hint != "" && !strings.HasPrefix(hint, "hint: ") {
				t.Errorf("%v: code %d, %q, %q; want %d", args, got, out, stderr, code)
			}
		}
	}
}

// unreadable is a command line with a file that is not there in the place of its first.
func unreadable(args []string) []string {
	nowhere := filepath.Join("nowhere", "it.toml")
	at := slices.IndexFunc(args[1:], func(a string) bool { return strings.Contains(a, string(filepath.Separator)) }) + 1
	switch {
	case at > 0:
		args = slices.Clone(args)
		args[at] = nowhere
	case args[0] == "serve":
		args = []string{"serve", "--json", nowhere, "--", "true"}
	default:
		args = append(slices.Clone(args), nowhere)
	}
	return args
}
