package main

import (
	"bytes"
	"context"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/cli"
)

// The output that the README shows is what the command prints.
func TestReadme(t *testing.T) {
	t.Chdir("../..")
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```console\n\\$ go run ./cmd/ridethrough (run [^\n]*)\n(.*?)```")
	shown := block.FindAllStringSubmatch(string(text), -1)
	if len(shown) < 2 {
		t.Fatalf("%d examples of run in the README", len(shown))
	}
	for _, m := range shown {
		var out bytes.Buffer
		cli.Main(context.Background(), cli.World{Args: strings.Fields(m[1]), Stdout: &out, Stderr: os.Stderr})
		if diff := cmp.Diff(strings.Split(m[2], "\n"), strings.Split(out.String(), "\n")); diff != "" {
			t.Errorf("%s (-README +real):\n%s", m[1], diff)
		}
	}
}
