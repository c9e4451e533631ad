package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"ridethrough": main, "echo-udp": echo, "mail-sink": mailSink, "site": site})
}

// The command as it is used: output, exit codes and error lines.
func TestScript(t *testing.T) {
	scenarios, err := filepath.Abs(filepath.Join("..", "..", "scenarios"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("SCENARIOS", scenarios)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "bulk": bulk, "field": field, "passed": passed},
	})
}

// exits runs a command that has to end with an exit code: exits CODE COMMAND...
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND [ARGS...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	var exit *exec.ExitError
	switch err := ts.Exec(args[1], args[2:]...); {
	case errors.As(err, &exit):
		code = exit.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if code != want {
		ts.Fatalf("exit code %d, want %d", code, want)
	}
}

// bulk writes a file that repeats text: bulk FILE BEFORE COUNT TEXT AFTER.
func bulk(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 5 {
		ts.Fatalf("usage: bulk FILE BEFORE COUNT TEXT AFTER")
	}
	n, err := strconv.Atoi(args[2])
	ts.Check(err)
	text := args[1] + strings.Repeat(args[3], n) + args[4] + "\n"
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o666))
}

// field puts what stands between BEFORE and the next quote in FILE into the
// environment: field NAME FILE BEFORE.
func field(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: field NAME FILE BEFORE")
	}
	_, rest, found := strings.Cut(ts.ReadFile(args[1]), args[2])
	value, _, closed := strings.Cut(rest, `"`)
	if !found || !closed {
		ts.Fatalf("%s has no %s", args[1], args[2])
	}
	ts.Setenv(args[0], value)
}

// passed waits until a session has come to a simulated second: passed READY-FILE
// SECONDS.
func passed(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: passed READY-FILE SECONDS")
	}
	want, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	var ready struct {
		Endpoints struct{ Bench string }
		Token     string `json:"bench_token"`
	}
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &ready))
	for start := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		at, err := simulated(ready.Endpoints.Bench, ready.Token)
		ts.Check(err)
		if at >= want {
			return
		}
		if time.Since(start) > time.Minute {
			ts.Fatalf("after a minute the session has come to %g s", at)
		}
	}
}

// simulated is how far a session has come, in seconds.
func simulated(bench, token string) (float64, error) {
	req, err := http.NewRequest(http.MethodGet, "http://"+bench+"/v1/state", nil)
	if err != nil {
		return 0, err
	}
	req.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err
	}
	defer answer.Body.Close()
	var state struct {
		Seconds *float64 `json:"t_s"`
	}
	if err := json.NewDecoder(answer.Body).Decode(&state); err != nil || state.Seconds == nil {
		return 0, fmt.Errorf("%s: %w", answer.Status, err)
	}
	return *state.Seconds, nil
}

// Scripts skip what needs a program that is not there; CI has to have them all.
func TestToolsAreThere(t *testing.T) {
	for _, tool := range []string{"snmpget", "sh"} {
		if _, err := exec.LookPath(tool); err != nil {
			if os.Getenv("CI") == "true" {
				t.Error(err)
			} else {
				t.Log(err)
			}
		}
	}
}

// The same scenario comes to the same bytes whatever instructions the compiler
// may use.
func TestTracesAgreeBetweenProcessors(t *testing.T) {
	switch {
	case testing.Short():
		t.Skip("builds the command twice")
	case runtime.GOARCH != "amd64":
		t.Skip("compares two levels of amd64")
	}
	dir := t.TempDir()
	old, young := build(t, dir, "v1"), build(t, dir, "v3")
	compared := 0
	for _, file := range append(shipped(t), "") {
		a, b := trace(t, old, dir, file), trace(t, young, dir, file)
		if !bytes.Equal(a, b) {
			t.Errorf("%s: the traces differ from line %d on", file, difference(a, b))
		}
		if len(a) > 0 {
			compared++
		}
	}
	study := func(program string) []byte {
		out, err := exec.Command(program, "study", filepath.Join("..", "..", "scenarios", "study-aged-branch.toml"), "--runs", "80", "--json", "--require", "0.5", "--compare", "waits-longer").Output()
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	if !bytes.Equal(study(old), study(young)) {
		t.Error("a study comes to something else")
	}
	if compared < 2 {
		t.Errorf("%d traces were compared", compared)
	}
}

// shipped are the scenarios that come with the program.
func shipped(t *testing.T) (files []string) {
	err := filepath.WalkDir(filepath.Join("..", "..", "scenarios"), func(path string, _ fs.DirEntry, err error) error {
		if err == nil && filepath.Ext(path) == ".toml" {
			files = append(files, path)
		}
		return err
	})
	if err != nil || len(files) == 0 {
		t.Fatalf("%d scenarios, %v", len(files), err)
	}
	return files
}

func build(t *testing.T, dir, level string) string {
	t.Helper()
	path := filepath.Join(dir, level)
	cmd := exec.Command("go", "build", "-o", path, ".")
	cmd.Env = append(os.Environ(), "GOAMD64="+level, "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if out, err := exec.Command(path, "--version").CombinedOutput(); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%v\n%s", err, out)
		}
		t.Skipf("this machine does not run %s: %s", level, out)
	}
	return path
}

// trace is the trace of a scenario, "" for the built-in one; nothing for one
// that cannot be run in virtual time.
func trace(t *testing.T, program, dir, scenario string) []byte {
	t.Helper()
	to := filepath.Join(dir, "trace")
	args := []string{"run", "--quiet", "--trace", to}
	if scenario != "" {
		args = append(args, scenario)
	}
	out, err := exec.Command(program, args...).CombinedOutput()
	if bytes.Contains(out, []byte("use serve")) {
		return nil
	}
	if bytes.Contains(out, []byte("choose one with --device")) {
		args = append(args, "--device", "1")
		out, err = exec.Command(program, args...).CombinedOutput()
	}
	if err != nil {
		t.Fatalf("%v: %v\n%s", args, err, out)
	}
	text, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func difference(a, b []byte) int {
	same := 0
	for same < min(len(a), len(b)) && a[same] == b[same] {
		same++
	}
	return 1 + bytes.Count(a[:same], []byte("\n"))
}
