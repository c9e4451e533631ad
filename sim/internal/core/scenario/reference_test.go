package scenario

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var referenceFile = filepath.Join("..", "..", "..", "..", "docs", "scenario.md")

// TestReference fails when docs/scenario.md is not what the schema says.
func TestReference(t *testing.T) {
	want := Reference()
	if *update {
		if err := os.MkdirAll(filepath.Dir(referenceFile), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(referenceFile, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(referenceFile)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, string(got)); diff != "" {
		t.Errorf("docs/scenario.md has drifted; run with -update (-want +got):\n%s", diff)
	}
}

// TestReferenceExamples loads every example of the reference.
func TestReferenceExamples(t *testing.T) {
	blocks := strings.Split(Reference(), "```toml\n")[1:]
	if len(blocks) < 2 {
		t.Fatalf("%d examples", len(blocks))
	}
	for _, b := range blocks {
		src, _, _ := strings.Cut(b, "```")
		if err := Check("example.toml", []byte(src)); err != nil {
			t.Errorf("%v in\n%s", err, src)
		}
	}
	if strings.Contains(Reference(), "{{") {
		t.Error("a part of the reference was not filled in")
	}
}
