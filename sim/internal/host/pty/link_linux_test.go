package pty

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"ridethrough/sim/internal/face/term/termtest"
)

func TestLink(t *testing.T) {
	_, s := start(t, nil)
	target, err := os.Readlink(s.Path())
	if err != nil || target != s.Device() || !strings.HasPrefix(target, "/dev/pts/") {
		t.Errorf("%s, %v", target, err)
	}
	pid, err := os.ReadFile(s.Path() + ".lock")
	if err != nil || strings.TrimSpace(string(pid)) != fmt.Sprint(os.Getpid()) {
		t.Errorf("%q, %v", pid, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	left, err := os.ReadDir(filepath.Dir(s.Path()))
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestLinkInUse(t *testing.T) {
	_, s := start(t, nil)
	_, err := Open(Config{Source: termtest.New(), Link: s.Path()})
	if want := fmt.Sprintf("is in use by process %d", os.Getpid()); err == nil || !strings.Contains(err.Error(), want) {
		t.Fatalf("%v, want %q", err, want)
	}
	plug(t, s.Path()).signIn() // and the first is none the worse
}

func TestLinkNotOurs(t *testing.T) {
	for name, make := range map[string]func(path string) error{
		"file": func(path string) error { return os.WriteFile(path, []byte("precious"), 0o600) },
		"link": func(path string) error { return os.Symlink("/dev/null", path) },
		"dir":  func(path string) error { return os.Mkdir(path, 0o700) },
	} {
		path := filepath.Join(t.TempDir(), "console")
		if err := make(path); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(Config{Source: termtest.New(), Link: path}); err == nil || !strings.Contains(err.Error(), "choose another path") {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := os.Stat(path + ".lock"); !os.IsNotExist(err) {
			t.Errorf("%s: lock left: %v", name, err)
		}
	}
}

// TestKilled: a simulator that was killed leaves link and lock file; the next one
// takes the path over.
func TestKilled(t *testing.T) {
	if path := os.Getenv("PTY_TEST_HOLD"); path != "" {
		s, err := Open(Config{Source: termtest.New(), Link: path})
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println("held " + s.Device())
		select {}
	}
	path := filepath.Join(t.TempDir(), "console")
	child := exec.Command(os.Args[0], "-test.run=^TestKilled$")
	child.Env = append(os.Environ(), "PTY_TEST_HOLD="+path)
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	var device string
	if _, err := fmt.Fscanf(out, "held %s\n", &device); err != nil {
		t.Fatal(err)
	}
	_, err = Open(Config{Source: termtest.New(), Link: path})
	if want := fmt.Sprintf("is in use by process %d", child.Process.Pid); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("while it lives: %v, want %q", err, want)
	}
	child.Process.Kill()
	child.Wait()
	if target, err := os.Readlink(path); err != nil || target != device {
		t.Fatalf("the dead one left %q, %v", target, err)
	}
	_, s := start(t, func(c *Config) { c.Link = path })
	plug(t, s.Path()).signIn()
}
