package cli

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// listed is what is in a folder, with its contents.
func listed(t *testing.T, dir string) string {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, e := range list {
		text, _ := os.ReadFile(filepath.Join(dir, e.Name()))
		info, _ := os.Stat(filepath.Join(dir, e.Name()))
		fmt.Fprintf(&b, "%s %v %q\n", e.Name(), info.Mode().Perm(), text)
	}
	return b.String()
}

// TestOutputsHaveNoName: until it is whole nothing of a file can be seen; then it has
// the permissions that were asked for, or those of what was there.
func TestOutputsHaveNoName(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "old"), []byte("before"), 0o640); err != nil {
		t.Fatal(err)
	}
	var o outputs
	for _, name := range []string{"new", "old"} {
		w, err := o.open(filepath.Join(dir, name), 0o604)
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, "whole")
	}
	if o.files[0].unnamed == nil {
		t.Skip("the file system has no files without a name")
	}
	if got := listed(t, dir); got != "old -rw-r----- \"before\"\n" {
		t.Errorf("under way there is\n%s", got)
	}
	if err := o.commit(); err != nil {
		t.Fatal(err)
	}
	o.discard()
	if got := listed(t, dir); got != "new -rw----r-- \"whole\"\nold -rw-r----- \"whole\"\n" {
		t.Errorf("in the end there is\n%s", got)
	}
}

// TestOutputsThatCannotAppear: a name that became a folder is one line without any name
// of ours, and nothing is left.
func TestOutputsThatCannotAppear(t *testing.T) {
	dir := t.TempDir()
	at := filepath.Join(dir, "x")
	var o outputs
	if _, err := o.open(at, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(at, 0o700); err != nil {
		t.Fatal(err)
	}
	err := o.commit()
	o.discard()
	if err == nil || !strings.HasPrefix(err.Error(), "cannot write "+at+": ") || strings.Contains(err.Error(), ".ridethrough") {
		t.Errorf("%v", err)
	}
	onlyEntry(t, dir, "x")
}

// TestHiddenOutputs: where there are no files without a name, one with a hidden name
// takes the target's place.
func TestHiddenOutputs(t *testing.T) {
	dir := t.TempDir()
	f := &output{target: filepath.Join(dir, "x")}
	var err error
	if f.pending, err = f.hidden(0o604); err != nil {
		t.Fatal(err)
	}
	f.buffer = bufio.NewWriter(f.pending)
	io.WriteString(f, "whole")
	if got := listed(t, dir); strings.Contains(got, "whole") || strings.HasPrefix(got, "x ") {
		t.Errorf("%s", got)
	}
	if err := f.commit(); err != nil {
		t.Fatal(err)
	}
	if got := listed(t, dir); got != "x -rw----r-- \"whole\"\n" {
		t.Errorf("%s", got)
	}
}
