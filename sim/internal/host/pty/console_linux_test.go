package pty

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"golang.org/x/sys/unix"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term/termtest"
)

// start gives a card a line; at the end nothing of it may be left.
func start(t *testing.T, change func(*Config)) (*termtest.Source, *Console) {
	t.Helper()
	checks.EndsWithin(t, 4*time.Minute)
	before := goleak.IgnoreCurrent()
	card := termtest.New()
	c := Config{Source: card, Link: filepath.Join(t.TempDir(), "console")}
	if change != nil {
		change(&c)
	}
	s, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
		checks.NoLeaks(t, before)
	})
	return card, s
}

// client is a program that has the line open.
type client struct {
	t    *testing.T
	f    *os.File
	seen strings.Builder
}

func plug(t *testing.T, path string) *client {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return &client{t: t, f: f}
}

func (c *client) typed(s string) {
	c.t.Helper()
	if _, err := c.f.WriteString(s); err != nil {
		c.t.Fatal(err)
	}
}

// until reads until want was shown, and returns all since the last call.
func (c *client) until(want string) string {
	c.t.Helper()
	c.f.SetReadDeadline(time.Now().Add(20 * time.Second))
	buf := make([]byte, 4096)
	for !strings.Contains(c.seen.String(), want) {
		n, err := c.f.Read(buf)
		c.seen.Write(buf[:n])
		if err != nil {
			c.t.Fatalf("waiting for %q: %v after %q", want, err, c.seen.String())
		}
	}
	defer c.seen.Reset()
	return c.seen.String()
}

// quiet reads whatever comes within a moment.
func (c *client) quiet() string {
	c.t.Helper()
	c.f.SetReadDeadline(time.Now().Add(300 * time.Millisecond))
	buf := make([]byte, 4096)
	all := ""
	for {
		n, err := c.f.Read(buf)
		all += string(buf[:n])
		if err != nil {
			return all
		}
	}
}

func (c *client) signIn() {
	c.t.Helper()
	c.typed("\r")
	c.until("user: ")
	c.typed(termtest.User + "\r")
	c.until("password: ")
	c.typed(termtest.Password + "\r")
	c.until("card> ")
}

func TestSession(t *testing.T) {
	card, s := start(t, nil)
	c := plug(t, s.Path())
	if got := c.quiet(); got != "" {
		t.Fatalf("shown before the first key: %q", got)
	}
	c.typed("\r")
	if got := c.until("user: "); !strings.Contains(got, "SIMULATION") {
		t.Errorf("%q", got)
	}
	c.typed(termtest.User + "\r\n" + termtest.Password + "\r\n")
	c.until("card> ")
	c.typed("status\r\n")
	if got := c.until("Card's clock"); !strings.HasPrefix(got, "status\r\n") || strings.Contains(got, "\r\r") {
		t.Errorf("%q", got)
	}
	c.typed("leave\r\n")
	c.until("Signed out.\r\n")
	if got := c.quiet(); got != "" {
		t.Errorf("the LF of the last CR LF woke the line: %q", got)
	}
	c.typed("\r")
	c.until("user: ")
	if by := card.Commands()[0].By; by != (snap.Actor{Surface: "serial", User: termtest.User, Role: snap.Administrator}) {
		t.Errorf("by %+v", by)
	}
}

// TestLineIsRaw: raw from the first moment, no byte changed either way.
func TestLineIsRaw(t *testing.T) {
	_, s := start(t, func(c *Config) { c.Baud = 9600 })
	c := plug(t, s.Path())
	conn, err := c.f.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	conn.Control(func(fd uintptr) {
		set, err := unix.IoctlGetTermios(int(fd), unix.TCGETS)
		if err != nil {
			t.Fatal(err)
		}
		if set.Lflag&(unix.ECHO|unix.ICANON|unix.ISIG) != 0 || set.Oflag&unix.OPOST != 0 || set.Iflag&(unix.ICRNL|unix.IXON) != 0 {
			t.Errorf("cooked: %+v", set)
		}
		if set.Cflag&unix.CBAUD != unix.B9600 {
			t.Errorf("speed %#x", set.Cflag&unix.CBAUD)
		}
	})
}

func TestMode(t *testing.T) {
	for _, mode := range []os.FileMode{0, 0o666} {
		_, s := start(t, func(c *Config) { c.Mode = mode })
		info, err := os.Stat(s.Path())
		if err != nil {
			t.Fatal(err)
		}
		want := mode
		if want == 0 {
			want = 0o600
		}
		if info.Mode().Perm() != want {
			t.Errorf("mode %v, want %v", info.Mode().Perm(), want)
		}
	}
}

// TestNobodyInherits: the next client is signed out, however fast it follows.
func TestNobodyInherits(t *testing.T) {
	_, s := start(t, nil)
	for range 20 {
		first := plug(t, s.Path())
		first.signIn()
		first.f.Close()
		second := plug(t, s.Path())
		second.typed("name\r")
		if got := second.until("user: "); strings.Contains(got, "card-a") {
			t.Fatalf("second client saw %q", got)
		}
		second.f.Close()
	}
}

// TestNothingStale: once the card noticed that a client left, what was meant for
// it is gone, and so is what it had typed.
func TestNothingStale(t *testing.T) {
	_, s := start(t, nil)
	for range 20 {
		first := plug(t, s.Path())
		first.signIn()
		first.typed("help\rmeasurements\rhelp\rjournal\rlea") // and reads none of it
		first.f.Close()
		eventually(t, "the closing noticed", func() bool {
			s.mu.Lock()
			defer s.mu.Unlock()
			return !s.left.IsZero()
		})
		second := plug(t, s.Path())
		second.typed("\r")
		if got := second.until("user: "); !strings.HasPrefix(got, "\r\nSIMULATION") {
			t.Fatalf("second client saw %q", got)
		}
		second.f.Close()
	}
}

// TestReopenAtOnce: a client that opens, writes and waits must be heard, however
// fast it follows on another.
func TestReopenAtOnce(t *testing.T) {
	_, s := start(t, nil)
	for range 200 {
		c := plug(t, s.Path())
		c.typed("\r")
		c.until("user: ")
		c.f.Close()
	}
}

// TestSecondClientEndsSession: who opens the line while another is signed in
// does not get that session.
func TestSecondClientEndsSession(t *testing.T) {
	_, s := start(t, nil)
	first := plug(t, s.Path())
	first.signIn()
	second := plug(t, s.Path())
	second.typed("name\r")
	if got := second.until("user: "); strings.Contains(got, "card-a") {
		t.Fatalf("%q", got)
	}
}

// TestLeftSettings: echo, cooked mode and the claim to be the only one do not
// outlive the client that set them.
func TestLeftSettings(t *testing.T) {
	_, s := start(t, nil)
	c := plug(t, s.Path())
	conn, err := c.f.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	conn.Control(func(fd uintptr) {
		set, err := unix.IoctlGetTermios(int(fd), unix.TCGETS)
		if err != nil {
			t.Fatal(err)
		}
		set.Lflag |= unix.ECHO | unix.ICANON
		if err := unix.IoctlSetTermios(int(fd), unix.TCSETS, set); err != nil {
			t.Fatal(err)
		}
		if err := unix.IoctlSetInt(int(fd), unix.TIOCEXCL, 0); err != nil {
			t.Fatal(err)
		}
	})
	c.f.Close()
	eventually(t, "the line restored", func() bool {
		set, err := unix.IoctlGetTermios(s.dev.slave, unix.TCGETS)
		if err != nil {
			t.Fatal(err)
		}
		alone, err := unix.IoctlGetInt(s.dev.slave, unix.TIOCGEXCL)
		if err != nil {
			t.Fatal(err)
		}
		return set.Lflag&(unix.ECHO|unix.ICANON) == 0 && alone == 0
	})
	plug(t, s.Path()).signIn()
}

// TestNobodyReads floods the line; what is not read is dropped, and the card
// neither stalls nor keeps it.
func TestNobodyReads(t *testing.T) {
	_, s := start(t, func(c *Config) { c.WriteWithin = 50 * time.Millisecond })
	c := plug(t, s.Path())
	c.signIn()
	for range 60 { // each answer is over 1000 bytes, the line holds about 16000
		c.typed("help\r")
		time.Sleep(2 * time.Millisecond) // a person's repeat key; more is lost as type-ahead
	}
	c.typed("\x03")
	deaf := c.quiet()
	for more := deaf; more != ""; {
		more = c.quiet()
	}
	c.typed("identity\r")
	c.until("EX-000123")
	if len(deaf) == 0 {
		t.Error("nothing was shown at all")
	}
}

// TestUnreadIsForgotten: when nobody reads in time, the line is emptied for what
// comes next.
func TestUnreadIsForgotten(t *testing.T) {
	_, s := start(t, func(c *Config) { c.WriteWithin = 50 * time.Millisecond })
	c := plug(t, s.Path())
	c.signIn()
	if err := s.put(s.life.Load(), []byte(strings.Repeat("old ", 16<<10))); err != nil {
		t.Fatal(err)
	}
	if err := s.put(s.life.Load(), []byte("new")); err != nil {
		t.Fatal(err)
	}
	if got := c.until("new"); got != "new" {
		t.Errorf("%d bytes, want those of the last write", len(got))
	}
}

// TestLateBytes: what arrives just after a closing was typed by who left, what
// arrives later by somebody who still has the line open.
func TestLateBytes(t *testing.T) {
	_, s := start(t, nil)
	c := plug(t, s.Path())
	c.signIn()
	s.mu.Lock()
	s.moved(moves{any: true, closed: true})
	s.left = time.Now().Add(time.Hour) // it stays just now
	s.mu.Unlock()
	c.typed("\r")
	if got := c.quiet(); got != "" {
		t.Fatalf("answered %q", got)
	}
	s.mu.Lock()
	s.left = time.Now().Add(-lateFor)
	s.mu.Unlock()
	c.typed("\r")
	c.until("user: ")
}

func TestSilentWhileBooting(t *testing.T) {
	card, s := start(t, nil)
	c := plug(t, s.Path())
	c.signIn()
	card.Change(func(d *snap.Device) { d.Card.State = snap.CardBooting })
	c.typed("status\r")
	if got := c.quiet(); got != "" {
		t.Fatalf("answered while booting: %q", got)
	}
	card.Change(func(d *snap.Device) { d.Card.State = snap.CardRunning; d.Card.Boots++ })
	c.typed("\r")
	if got := c.until("user: "); strings.Contains(got, "card>") {
		t.Errorf("%q", got)
	}
}

// TestLock: three failed sign-ins keep everybody out for a while, also whoever
// closes and opens the line between them.
func TestLock(t *testing.T) {
	_, s := start(t, func(c *Config) { c.LockFor = 3 * time.Second })
	c := plug(t, s.Path())
	for range 2 {
		c.typed("\rinstaller\rwrong\r")
		c.until("wrong.\r\n")
	}
	c.f.Close()
	again := plug(t, s.Path())
	again.typed("\rinstaller\rwrong\r")
	again.until("3 times in a row")
	again.f.Close()
	again = plug(t, s.Path())
	again.typed("\r")
	again.until("Try again in ")
	eventually(t, "the end of the lock", func() bool {
		again.typed("\r")
		return strings.Contains(again.quiet(), "user: ")
	})
}

func TestIdle(t *testing.T) {
	_, s := start(t, func(c *Config) { c.Idle = 100 * time.Millisecond })
	c := plug(t, s.Path())
	c.typed("\r")
	c.until("Signed out: nothing was typed")
	c.typed("\r")
	c.until("user: ")
}

// TestPacedLine only looks that pacing loses nothing; how long it takes is
// computed in TestWire.
func TestPacedLine(t *testing.T) {
	_, s := start(t, func(c *Config) { c.Baud = 57600 })
	c := plug(t, s.Path())
	c.signIn()
	c.typed("help\r")
	if got := c.until("gives it up.\r\n"); !strings.Contains(got, "measurements  every measured value") {
		t.Errorf("%q", got)
	}
}

func TestCloseWhileSending(t *testing.T) {
	_, s := start(t, func(c *Config) { c.Baud = 1200 })
	c := plug(t, s.Path())
	c.typed("\r")
	c.until("SIM")
	done := make(chan error, 1)
	go func() { done <- s.Close() }()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("Close waits for the end of a slow text")
	}
	if _, err := os.Lstat(s.c.Link); !os.IsNotExist(err) {
		t.Errorf("the link is still there: %v", err)
	}
}

func TestManyLines(t *testing.T) {
	for i := range 5 {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			_, s := start(t, func(c *Config) { c.Link = "" })
			if s.Path() != s.Device() {
				t.Errorf("%s is not %s", s.Path(), s.Device())
			}
			plug(t, s.Path()).signIn()
		})
	}
}

// eventually waits for something that another goroutine brings about.
func eventually(t *testing.T, what string, f func() bool) {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		if f() {
			return
		}
	}
	t.Fatalf("never: %s", what)
}
