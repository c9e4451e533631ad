package sshd

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/face/term/termtest"
)

// openssh prepares the OpenSSH client to sign in with password, knowing the
// server by the key of the seed and by nothing else.
func openssh(t *testing.T, addr, password string, seed byte, args ...string) *exec.Cmd {
	t.Helper()
	program := checks.Program(t, "ssh")
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatal(err)
	}
	key, err := PublicKeyLine(HostKeyFromSeed([32]byte{seed}))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	known, ask := filepath.Join(dir, "known"), filepath.Join(dir, "ask")
	write(t, known, fmt.Sprintf("[%s]:%s %s\n", host, port, key), 0o600)
	write(t, ask, "#!/bin/sh\necho '"+password+"'\n", 0o700)
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	t.Cleanup(cancel)
	c := exec.CommandContext(ctx, program, append([]string{"-F", "none", "-p", port,
		"-o", "StrictHostKeyChecking=yes", "-o", "UserKnownHostsFile=" + known, "-o", "GlobalKnownHostsFile=none",
		"-o", "IdentitiesOnly=yes", "-o", "IdentityAgent=none", "-l", termtest.User}, args...)...)
	c.Env = append(os.Environ(), "SSH_ASKPASS="+ask, "SSH_ASKPASS_REQUIRE=force", "DISPLAY=:0", "LC_ALL=C")
	return c
}

func write(t *testing.T, path, text string, mode os.FileMode) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), mode); err != nil {
		t.Fatal(err)
	}
}

func run(t *testing.T, c *exec.Cmd, stdin string) (out, errs string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	c.Stdin, c.Stdout, c.Stderr = strings.NewReader(stdin), &o, &e
	err := c.Run()
	if c.ProcessState == nil {
		t.Fatal(err)
	}
	return o.String(), e.String(), c.ProcessState.ExitCode()
}

func TestOpenSSH(t *testing.T) {
	_, addr := start(t, nil)
	for _, x := range []struct {
		name, stdin, out, err string
		args                  []string
		code                  int
	}{
		{name: "a word", args: []string{"127.0.0.1", "status"}, out: "source: mains\n", err: "SIMULATION"},
		{name: "not a word", args: []string{"127.0.0.1", "uname"}, err: "not a word", code: 2},
		{name: "lines without a terminal", args: []string{"-T", "127.0.0.1"}, stdin: "identity\nleave\n", out: "EX-000123\n"},
		{name: "a secret on standard input", args: []string{"127.0.0.1", "account", "add", "bob", "operator", "--stdin"}, stdin: "a-word-for-it\n", out: "bob may sign in as operator"},
		{name: "a secret that is missing", args: []string{"127.0.0.1", "account", "add", "eve", "operator", "--stdin"}, err: "no line for the new password", code: 2},
		{name: "end of input", args: []string{"-T", "127.0.0.1"}, stdin: "alarms\n", out: "No alarm is present.\n"},
		{name: "a terminal", args: []string{"-tt", "127.0.0.1"}, stdin: "measurements\rleave\r", out: "81.6 V\r\n"},
		{name: "file transfer", args: []string{"-s", "127.0.0.1", "sftp"}, err: "subsystem request failed", code: 255},
	} {
		t.Run(x.name, func(t *testing.T) {
			out, errs, code := run(t, openssh(t, addr, termtest.Password, 1, x.args...), x.stdin)
			if code != x.code || !strings.Contains(out, x.out) || !strings.Contains(errs, x.err) {
				t.Errorf("exit %d, out %q, err %q", code, out, errs)
			}
		})
	}
}

func TestOpenSSHWrongPassword(t *testing.T) {
	card, addr := start(t, nil)
	_, errs, code := run(t, openssh(t, addr, "wrong", 1, "127.0.0.1", "status"), "")
	if code != 255 || len(card.Commands()) != 3 {
		t.Errorf("exit %d, %d tries, err %q", code, len(card.Commands()), errs)
	}
}

// TestOpenSSHChangedKey: a card with another seed is not taken for this one.
func TestOpenSSHChangedKey(t *testing.T) {
	card, addr := start(t, nil)
	_, errs, code := run(t, openssh(t, addr, termtest.Password, 2, "127.0.0.1", "status"), "")
	if code != 255 || !strings.Contains(errs, "Host key verification failed") || len(card.Commands()) != 0 {
		t.Errorf("exit %d, err %q", code, errs)
	}
}
