package pty

import (
	"context"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

// set changes the card's rules for signing in, at once.
func set(card interface{ Change(func(*snap.Device)) }, change func(*snap.SignInRules)) {
	card.Change(func(d *snap.Device) {
		d.Card.Settings = *d.Card.Settings.Clone()
		change(d.Card.Settings.SignIn)
	})
}

// second opens the line as a person does who is not root, with a real program, types
// a line end, and returns what came.
func second(t *testing.T, s *Console, program string, args ...string) string {
	t.Helper()
	checks.Program(t, program)
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	c := exec.CommandContext(ctx, program, args...)
	c.WaitDelay = time.Second
	c.Stdin = strings.NewReader("\r")
	if os.Geteuid() == 0 {
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	out, _ := c.CombinedOutput() // a refusal is an error of the program
	return string(out)
}

const busy = "Device or resource busy"

// shell opens the line, presses Enter and reads as far as the question of a card
// that knows nobody yet.
const shell = `exec 3<>"$0" || exit 1; printf '\r' >&3; head -c 140 <&3`

// TestSecondClientRefused: while somebody is signed in, others are told that the line
// is busy and the session goes on; before that, after it, and unless it is set, they
// are not.
func TestSecondClientRefused(t *testing.T) {
	card, s := start(t, func(c *Config) { c.Mode = 0o666 })
	comes := func() string { return second(t, s, "bash", "-c", shell, s.Device()) }
	set(card, func(r *snap.SignInRules) { r.SerialLock = true })
	if got := comes(); !strings.Contains(got, "SIMULATION") {
		t.Fatalf("nobody is there: %q", got)
	}
	first := plug(t, s.Path())
	first.signIn()
	for _, x := range [][]string{
		{"bash", "-c", shell, s.Device()},
		{"socat", "-", "OPEN:" + s.Device() + ",raw"},
		{"picocom", "--exit-after", "500", s.Device()},
	} {
		if got := second(t, s, x[0], x[1:]...); !strings.Contains(got, busy) || strings.Contains(got, "SIMULATION") {
			t.Errorf("%s: %q", x[0], got)
		}
	}
	first.typed("status\r")
	if got := first.until("card> "); !strings.Contains(got, "source: mains") {
		t.Errorf("the first session after them: %q", got)
	}
	first.typed("leave\r")
	first.until("Signed out.")
	eventually(t, "the line free", func() bool { return !s.held.Load() })
	if got := comes(); !strings.Contains(got, "SIMULATION") {
		t.Errorf("after the first has left: %q", got)
	}
	set(card, func(r *snap.SignInRules) { r.SerialLock = false })
	again := plug(t, s.Path())
	again.signIn()
	if got := comes(); !strings.Contains(got, "SIMULATION") {
		t.Errorf("not set: %q", got)
	}
}

// TestLockEndsWithIdle: who walks away signed in locks the others out until the idle
// time-out, and no longer.
func TestLockEndsWithIdle(t *testing.T) {
	card, s := start(t, func(c *Config) { c.Mode = 0o666; c.Idle = 5 * time.Second })
	set(card, func(r *snap.SignInRules) { r.SerialLock = true })
	first := plug(t, s.Path())
	first.signIn()
	if got := second(t, s, "bash", "-c", shell, s.Device()); !strings.Contains(got, busy) {
		t.Errorf("while it is open: %q", got)
	}
	first.until("nothing was typed")
	eventually(t, "the line free", func() bool { return !s.held.Load() })
	if got := second(t, s, "bash", "-c", shell, s.Device()); !strings.Contains(got, "SIMULATION") {
		t.Errorf("after the time-out: %q", got)
	}
}

// TestKilledClientLocksNobody: a terminal program that is killed leaves the line free.
func TestKilledClientLocksNobody(t *testing.T) {
	checks.Program(t, "bash")
	card, s := start(t, func(c *Config) { c.Mode = 0o666 })
	set(card, func(r *snap.SignInRules) { r.SerialLock = true })
	c := exec.Command("bash", "-c", `exec 3<>"$0"; printf '\rinstaller\rcorrect horse\r' >&3; sleep 60 & wait`, s.Device())
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	eventually(t, "somebody signed in", s.held.Load)
	syscall.Kill(-c.Process.Pid, syscall.SIGKILL)
	c.Wait()
	eventually(t, "the line free", func() bool { return !s.held.Load() })
	eventually(t, "the next", func() bool { return strings.Contains(second(t, s, "bash", "-c", shell, s.Device()), "SIMULATION") })
}

// say writes to the line as the card does.
func say(t *testing.T, s *Console, text string) {
	t.Helper()
	if err := s.put(s.life.Load(), []byte(text)); err != nil {
		t.Fatal(err)
	}
}

// TestUnpluggedStays: on a card that does not see its plug the next who comes is
// signed in as who left, and reads nothing that was meant for the one before or said
// to nobody. As the card comes, nobody is.
func TestUnpluggedStays(t *testing.T) {
	for want, stays := range map[string]bool{"card> ": true, "user: ": false} {
		card, s := start(t, nil)
		set(card, func(r *snap.SignInRules) { r.SerialStays = stays })
		first := plug(t, s.Path())
		first.signIn()
		say(t, s, "MEANT for the first")
		first.f.Close()
		eventually(t, "the closing noticed", func() bool { return !s.plugged.Load() })
		if stays {
			say(t, s, "MEANT for nobody")
		}
		next := plug(t, s.Path())
		next.typed("\r")
		if got := next.until(want); strings.Contains(got, "MEANT") {
			t.Errorf("stays %v: %q", stays, got)
		}
		if n := len(card.Device().Card.Sessions); (n == 1) != stays {
			t.Errorf("stays %v: %d sessions", stays, n)
		}
	}
}

// TestUnpluggedUntilIdle: it stays so no longer than the idle time-out.
func TestUnpluggedUntilIdle(t *testing.T) {
	card, s := start(t, func(c *Config) { c.Idle = 3 * time.Second })
	set(card, func(r *snap.SignInRules) { r.SerialStays = true })
	first := plug(t, s.Path())
	first.signIn()
	first.f.Close()
	eventually(t, "the time-out", func() bool { return !s.held.Load() })
	if n := len(card.Device().Card.Sessions); n != 0 {
		t.Errorf("%d sessions", n)
	}
	next := plug(t, s.Path())
	next.typed("\r")
	if got := next.until("user: "); strings.Contains(got, "nothing was typed") {
		t.Errorf("%q", got)
	}
}

// TestStaysIsNotShared: a second program beside the one that is signed in does not
// share its session where that outlives its plug.
func TestStaysIsNotShared(t *testing.T) {
	card, s := start(t, func(c *Config) { c.Mode = 0o666 })
	set(card, func(r *snap.SignInRules) { r.SerialStays = true })
	first := plug(t, s.Path())
	first.signIn()
	if got := second(t, s, "bash", "-c", shell, s.Device()); !strings.Contains(got, busy) {
		t.Errorf("%q", got)
	}
	first.f.Close()
	eventually(t, "the closing noticed", func() bool { return !s.plugged.Load() })
	if got := second(t, s, "bash", "-c", `exec 3<>"$0" || exit 1; printf 'name\r' >&3; head -c 20 <&3`, s.Device()); !strings.Contains(got, "name") {
		t.Errorf("the next: %q", got)
	}
}
