package cli

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write docs/cli.md anew")

func docs(name string) string { return filepath.Join("..", "..", "docs", name) }

// command carries out args and gives what came of it.
func command(ctx context.Context, args ...string) (code int, out, err string) {
	var o, e bytes.Buffer
	code = Main(ctx, World{Args: args, Stdout: &o, Stderr: &e})
	return code, o.String(), e.String()
}

func TestReferenceIsUpToDate(t *testing.T) {
	if *update {
		if err := os.WriteFile(docs("cli.md"), []byte(Reference()), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(docs("cli.md"))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), Reference()); diff != "" {
		t.Errorf("docs/cli.md; go test -update rewrites it (-want +got):\n%s", diff)
	}
}

func TestEveryExitCodeIsDocumented(t *testing.T) {
	text, err := os.ReadFile(docs("exit-codes.md"))
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, e := range exits {
		if !strings.Contains(string(text), fmt.Sprintf("\n| %d | %s |\n", e.code, e.sentence)) {
			t.Errorf("docs/exit-codes.md has no row for %d: %s", e.code, e.sentence)
		}
	}
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "| ") && !strings.HasPrefix(line, "| code") && !strings.HasPrefix(line, "| ---") {
			rows++
		}
	}
	if rows != len(exits) {
		t.Errorf("docs/exit-codes.md has %d rows for %d codes", rows, len(exits))
	}
}

// aTable is a small discharge table.
var aTable = filepath.Join("..", "..", "testdata", "tables", "ep65-12_12v65ah_cp.csv")

// aStudy is a scenario with [vary].
var aStudy = filepath.Join("..", "..", "scenarios", "study-aged-branch.toml")

type writerFunc func([]byte) (int, error)

func (f writerFunc) Write(p []byte) (int, error) { return f(p) }

func TestPanicIsAFaultOfOurs(t *testing.T) {
	var stderr bytes.Buffer
	code := Main(t.Context(), World{
		Args:   []string{"run"},
		Stdout: writerFunc(func([]byte) (int, error) { panic("a bad\nday") }),
		Stderr: &stderr,
	})
	first, rest, _ := strings.Cut(stderr.String(), "\n")
	const want = "ridethrough: internal fault: a bad day; please report it as a bug, with the command, the scenario and these lines:"
	if code != exitFault || first != want || !strings.Contains(rest, "cli_test.go") {
		t.Errorf("code %d, %s", code, stderr.String())
	}
}

const (
	inrush   = "../../scenarios/inrush.toml"
	inBudget = "../../scenarios/shutdown-budget.toml"
)

// tellers are command lines that write to standard output, some of every command that
// does; some read files in dir, which prepare has made.
func tellers(t *testing.T, dir string) [][]string {
	t.Helper()
	at, _ := sink(t, http.StatusOK, `{"ready":true,"now_ms":300000}`)
	lines := [][]string{
		{"--help"}, {"help", "serve"}, {"run", "--help"}, {"--version"}, {"run"}, {"run", "-q"}, {"run", "--variants"}, {"run", fleet}, {"objects"}, {"objects", inrush}, {"objects", "--listeners"}, {"check", inrush, fleet},
		{"physics", inrush}, {"stage", inrush}, {"budget", inBudget}, {"fit", aTable}, {"plot", "iti"}, {"plot", "discharge", "agm-12v-9ah"},
		{"study", aStudy, "--runs", "10", "--workers", "1"}, {"serve", "--", "true"}, {"replay", filepath.Join(dir, "journal")}, {"wait", "--bench", at}, {"send", "--step", "5m", "--bench", at, "--token", "right"},
		{"image", "../../scenarios/firmware-way-back.toml"}, {"card", "export", "--state", filepath.Join(dir, "state")},
	}
	if code, _, stderr := command(t.Context(), "serve", "--quiet", "--state", filepath.Join(dir, "state"), "--", "true"); code > exitMissed {
		t.Fatal(stderr)
	}
	for _, c := range contracts(dir) {
		if c.file == "" {
			lines = append(lines, c.args)
		}
	}
	return lines
}

// TestUnwritableStandardOutput: a full disk is told; that the reader of a pipe has
// closed it is not, and the exit code is that of what SIGPIPE ends.
func TestUnwritableStandardOutput(t *testing.T) {
	dir := t.TempDir()
	prepare(t, dir)
	told := map[string]bool{}
	for _, args := range tellers(t, dir) {
		told[args[0]] = true
		for _, c := range []struct {
			fails error
			code  int
			says  string
		}{
			{errors.New("no space"), exitIO, "ridethrough: cannot write standard output: no space\n"},
			{&fs.PathError{Op: "write", Path: "/dev/stdout", Err: syscall.EPIPE}, exitHungUp, ""},
		} {
			os.RemoveAll(filepath.Join(dir, "again")) // of record
			var stderr bytes.Buffer
			code := Main(t.Context(), World{Args: args, Stdout: writerFunc(func([]byte) (int, error) { return 0, c.fails }), Stderr: &stderr})
			if code != c.code || !strings.HasSuffix(stderr.String(), c.says) || c.says == "" && strings.Contains(stderr.String(), standardOutput) || args[0] != "record" && stderr.String() != c.says {
				t.Errorf("%v: code %d, %q; want %d, %q", args, code, stderr.String(), c.code, c.says)
			}
		}
	}
	for _, cmd := range (&app{out: io.Discard, err: io.Discard}).root().Commands() {
		if name := cmd.Name(); !told[name] && name != "help" {
			t.Errorf("nobody looks at what %s makes of a closed standard output", name)
		}
	}
}

func TestAnInterruptedRunStillReports(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	trace := filepath.Join(t.TempDir(), "trace")
	code, out, _ := command(ctx, "run", "--quiet", "--trace", trace)
	if code != exitInterrupted || !strings.Contains(out, "; interrupted at 0:00:00.000\n") {
		t.Errorf("code %d, %s", code, out)
	}
	if text, err := os.ReadFile(trace); err != nil || !strings.Contains(string(text), "0:00:00.000 end\n") {
		t.Errorf("trace %q, %v", text, err)
	}
}

// TestAnInterruptedStudyGoesOn: it says that it was interrupted, and how it goes on.
func TestAnInterruptedStudyGoesOn(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	file := filepath.Join(t.TempDir(), "kept")
	for _, c := range []struct {
		more []string
		want string
	}{
		{nil, "ridethrough: interrupted after 0 of 50 runs; with --resume FILE it would keep them and go on\n"},
		{[]string{"--resume", file}, "ridethrough: interrupted after 0 of 50 runs: " + file + " goes on with the same command\n"},
	} {
		code, _, stderr := command(ctx, append([]string{"study", aStudy, "--runs", "50", "--workers", "1", "-q"}, c.more...)...)
		if code != exitInterrupted || stderr != c.want {
			t.Errorf("%v: code %d, %q; want %d, %q", c.more, code, stderr, exitInterrupted, c.want)
		}
	}
}

func TestOutputsAppearWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "report")
	if err := os.WriteFile(path, []byte("old"), 0o640); err != nil {
		t.Fatal(err)
	}
	var o outputs
	w, err := o.open(path, 0o666)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write(bytes.Repeat([]byte("new"), 10_000)); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(path); string(got) != "old" {
		t.Errorf("before the commit the file has %d bytes", len(got))
	}
	if err := o.commit(); err != nil {
		t.Fatal(err)
	}
	o.discard()
	info, err := os.Stat(path)
	if err != nil || info.Size() != 30_000 || info.Mode().Perm() != 0o640 {
		t.Errorf("after the commit: %v, %v", info, err)
	}
	onlyEntry(t, dir, "report")
}

func TestDiscardedOutputsLeaveNothing(t *testing.T) {
	dir := t.TempDir()
	var o outputs
	if _, err := o.open(filepath.Join(dir, "trace"), 0o666); err != nil {
		t.Fatal(err)
	}
	o.discard()
	onlyEntry(t, dir)
}

func onlyEntry(t *testing.T, dir string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("files (-want +got):\n%s", diff)
	}
}

func TestOutputsFollowLinks(t *testing.T) {
	dir := t.TempDir()
	target, link := filepath.Join(dir, "target"), filepath.Join(dir, "link")
	if err := os.WriteFile(target, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(target, link); err != nil {
		t.Skip(err)
	}
	var o outputs
	w, err := o.open(link, 0o666)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(w, "x")
	if err := o.commit(); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(target)
	if _, notLink := os.Readlink(link); err != nil || string(got) != "x" || notLink != nil {
		t.Errorf("target %q, %v; link: %v", got, err, notLink)
	}
}

func TestOutputsMayBeDevices(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip(err)
	}
	if code, _, stderr := command(t.Context(), "run", "--trace", "/dev/null"); code != exitMet {
		t.Errorf("/dev/null: code %d, %s", code, stderr)
	}
	code, _, stderr := command(t.Context(), "run", "--trace", "/dev/full")
	if code != exitIO || stderr != "ridethrough: cannot write /dev/full: no space left on device\n" {
		t.Errorf("/dev/full: code %d, %s", code, stderr)
	}
}
