package sshd

import (
	"bytes"
	"errors"
	"io"
	"net"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gliderlabs/ssh"
	"go.uber.org/goleak"
	gossh "golang.org/x/crypto/ssh"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/term/termtest"
)

// start serves a card on the loopback; at the end nothing of it may be left.
func start(t *testing.T, change func(*Config)) (*termtest.Source, string) {
	t.Helper()
	checks.EndsWithin(t, 2*time.Minute)
	before := goleak.IgnoreCurrent()
	card := termtest.New()
	c := Config{Source: card, HostKey: HostKeyFromSeed([32]byte{1}), OnPanic: func(v any, stack []byte) { t.Errorf("panic: %v\n%s", v, stack) }}
	if change != nil {
		change(&c)
	}
	s, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(l) }()
	t.Cleanup(func() {
		s.Close()
		if err := <-served; !errors.Is(err, ErrClosed) {
			t.Errorf("Serve: %v", err)
		}
		checks.NoLeaks(t, before)
	})
	return card, l.Addr().String()
}

func dialAs(addr, user string, passwords ...string) (*gossh.Client, error) {
	try := 0
	return gossh.Dial("tcp", addr, &gossh.ClientConfig{
		User: user,
		Auth: []gossh.AuthMethod{gossh.RetryableAuthMethod(gossh.PasswordCallback(func() (string, error) {
			try++
			return passwords[min(try, len(passwords))-1], nil
		}), 10)},
		HostKeyCallback: gossh.InsecureIgnoreHostKey(), // the OpenSSH test checks it
		Timeout:         10 * time.Second,
	})
}

func dial(t *testing.T, addr string) *gossh.Client {
	t.Helper()
	c, err := dialAs(addr, termtest.User, termtest.Password)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// dialog is a menu on a terminal.
type dialog struct {
	t    *testing.T
	in   io.WriteCloser
	out  io.Reader
	sess *gossh.Session
	seen bytes.Buffer
}

func openDialog(t *testing.T, c *gossh.Client) *dialog {
	t.Helper()
	sess, err := c.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	return dialogOf(t, sess)
}

func dialogOf(t *testing.T, sess *gossh.Session) *dialog {
	t.Helper()
	d := &dialog{t: t, sess: sess}
	d.in, _ = sess.StdinPipe()
	d.out, _ = sess.StdoutPipe()
	if err := sess.RequestPty("vt100", 24, 80, nil); err != nil {
		t.Fatal(err)
	}
	if err := sess.Shell(); err != nil {
		t.Fatal(err)
	}
	return d
}

// until reads until want was shown.
func (d *dialog) until(want string) string {
	d.t.Helper()
	buf := make([]byte, 4096)
	for !strings.Contains(d.seen.String(), want) {
		n, err := d.out.Read(buf)
		d.seen.Write(buf[:n])
		if err != nil {
			d.t.Fatalf("waiting for %q: %v after %q", want, err, d.seen.String())
		}
	}
	defer d.seen.Reset()
	return d.seen.String()
}

func (d *dialog) typed(s string) { io.WriteString(d.in, s) }

func TestDialog(t *testing.T) {
	card, addr := start(t, nil)
	d := openDialog(t, dial(t, addr))
	d.until("Signed in as installer")
	d.typed("status\r")
	if got := d.until("Card's clock"); !strings.Contains(got, "source: mains\r\n") || strings.Contains(got, "\r\r") {
		t.Errorf("%q", got)
	}
	d.typed("name\rcard-b\rsave\r")
	d.until("Saved.")
	d.typed("leave\r")
	d.until("Signed out.")
	if err := d.sess.Wait(); err != nil {
		t.Errorf("exit: %v", err)
	}
	commands := card.Commands()
	if len(commands) != 2 || commands[0].Op != snap.OpSignIn || !commands[0].OK || commands[1].Op != snap.OpSave {
		t.Fatalf("%+v", commands)
	}
	for _, c := range commands {
		if c.By.Surface != "ssh" || c.By.User != termtest.User || !strings.HasPrefix(c.By.Peer, "127.0.0.1:") {
			t.Errorf("by %+v", c.By)
		}
	}
}

func TestVersionAndNotice(t *testing.T) {
	_, addr := start(t, nil)
	notice := ""
	c, err := gossh.Dial("tcp", addr, &gossh.ClientConfig{
		User: termtest.User, Auth: []gossh.AuthMethod{gossh.Password(termtest.Password)},
		HostKeyCallback: gossh.InsecureIgnoreHostKey(),
		BannerCallback:  func(m string) error { notice = m; return nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if v := string(c.ServerVersion()); v != "SSH-2.0-ridethrough_SIMULATION" || !strings.Contains(notice, "SIMULATION") {
		t.Errorf("version %q, notice %q", v, notice)
	}
}

// TestThreeTries: the connection ends with the third, and each is reported.
func TestThreeTries(t *testing.T) {
	card, addr := start(t, nil)
	if c, err := dialAs(addr, termtest.User, "wrong", "worse", "worst", termtest.Password); err == nil {
		c.Close()
		t.Fatal("signed in at the fourth try")
	}
	if got := len(card.Commands()); got != 3 {
		t.Errorf("%d tries reported, want 3", got)
	}
	c, err := dialAs(addr, termtest.User, "wrong", "worse", termtest.Password)
	if err != nil {
		t.Fatalf("third try: %v", err)
	}
	c.Close()
	commands := card.Commands() // it may have signed out by now
	if len(commands) < 6 || !commands[5].OK || commands[5].Op != snap.OpSignIn {
		t.Errorf("%+v", commands)
	}
}

func TestUnknownUser(t *testing.T) {
	card, addr := start(t, nil)
	if c, err := dialAs(addr, "nobody", termtest.Password); err == nil {
		c.Close()
		t.Fatal("a password of one user let in another")
	}
	for _, c := range card.Commands() {
		if c.OK || c.By.User != "nobody" {
			t.Errorf("%+v", c)
		}
	}
}

// switched is a connection that tried installer first and then another user:
// the library's context still names the first.
type switched struct {
	ssh.Context
	meta gossh.ConnMetadata
}

func (c switched) User() string  { return termtest.User }
func (c switched) Value(any) any { return c.meta }

type lastTry struct{ gossh.ConnMetadata }

func (lastTry) User() string         { return "nobody" }
func (lastTry) RemoteAddr() net.Addr { return &net.TCPAddr{} }

// TestUserOfTheLastTry: the password must belong to the user who would get in.
func TestUserOfTheLastTry(t *testing.T) {
	s, err := New(Config{Source: termtest.New(), HostKey: HostKeyFromSeed([32]byte{1})})
	if err != nil {
		t.Fatal(err)
	}
	if s.password(switched{meta: lastTry{}}, termtest.Password) {
		t.Error("nobody got in with the password of installer")
	}
}

// TestNoOtherWayIn: no keys, no keyboard-interactive, not nothing.
func TestNoOtherWayIn(t *testing.T) {
	_, addr := start(t, nil)
	signer, err := gossh.NewSignerFromSigner(HostKeyFromSeed([32]byte{9}))
	if err != nil {
		t.Fatal(err)
	}
	for name, auth := range map[string][]gossh.AuthMethod{
		"none": nil,
		"key":  {gossh.PublicKeys(signer)},
		"keyboard": {gossh.KeyboardInteractive(func(string, string, []string, []bool) ([]string, error) {
			return []string{termtest.Password}, nil
		})},
	} {
		if c, err := gossh.Dial("tcp", addr, &gossh.ClientConfig{User: termtest.User, Auth: auth, HostKeyCallback: gossh.InsecureIgnoreHostKey()}); err == nil {
			c.Close()
			t.Errorf("%s: signed in", name)
		}
	}
}

// TestResizing sends more window changes than anything buffers.
func TestResizing(t *testing.T) {
	_, addr := start(t, nil)
	d := openDialog(t, dial(t, addr))
	d.until("card> ")
	for i := range 200 {
		if err := d.sess.WindowChange(20+i%30, 60+i%60); err != nil {
			t.Fatal(err)
		}
	}
	d.typed("identity\r")
	d.until("EX-000123")
}

func TestCommandLine(t *testing.T) {
	_, addr := start(t, nil)
	c := dial(t, addr)
	for _, x := range []struct {
		line, out, err string
		code           int
	}{
		{"status", "source: mains\n", "", 0},
		{"journal 1", "leased\n", "", 0},
		{"save", "", "needs a dialog", 2},
		{"/bin/sh -c 'echo x'", "", "not a word", 2},
	} {
		sess, err := c.NewSession()
		if err != nil {
			t.Fatal(err)
		}
		var out, errs bytes.Buffer
		sess.Stdout, sess.Stderr = &out, &errs
		code := 0
		var exit *gossh.ExitError
		if err := sess.Run(x.line); errors.As(err, &exit) {
			code = exit.ExitStatus()
		} else if err != nil {
			t.Fatal(err)
		}
		if code != x.code || !strings.Contains(out.String(), x.out) || !strings.Contains(errs.String(), x.err) {
			t.Errorf("%q: exit %d, out %q, err %q", x.line, code, out.String(), errs.String())
		}
	}
}

// TestNothingElse: no forwarding either way, no subsystem.
func TestNothingElse(t *testing.T) {
	_, addr := start(t, nil)
	c := dial(t, addr)
	if conn, err := c.Dial("tcp", addr); err == nil {
		conn.Close()
		t.Error("forwarded to the server's side")
	}
	if l, err := c.Listen("tcp", "127.0.0.1:0"); err == nil {
		l.Close()
		t.Error("forwarded from the server's side")
	}
	sess, err := c.NewSession()
	if err != nil {
		t.Fatal(err)
	}
	if err := sess.RequestSubsystem("sftp"); err == nil {
		t.Error("sftp granted")
	}
}

// TestCrookedTerminalRequest sends a pty request whose length field wraps
// around, on which the library panics: it may cost that connection only.
func TestCrookedTerminalRequest(t *testing.T) {
	panics := make(chan any, 1)
	_, addr := start(t, func(c *Config) { c.OnPanic = func(v any, _ []byte) { panics <- v } })
	c := dial(t, addr)
	ch, reqs, err := c.OpenChannel("session", nil)
	if err != nil {
		t.Fatal(err)
	}
	go gossh.DiscardRequests(reqs)
	ch.SendRequest("pty-req", false, []byte{0xff, 0xff, 0xff, 0xff, 'x', 'x'})
	if <-panics == nil {
		t.Error("no panic to confine: the library was mended, this test may go")
	}
	if err := c.Wait(); err == nil {
		t.Error("the connection lives on")
	}
	openDialog(t, dial(t, addr)).until("card> ")
}

func TestSessionLimit(t *testing.T) {
	_, addr := start(t, func(c *Config) { c.MaxSessions = 2 })
	c := dial(t, addr)
	first := openDialog(t, c)
	first.until("card> ")
	openDialog(t, c).until("card> ")
	var full *gossh.OpenChannelError
	if _, err := c.NewSession(); !errors.As(err, &full) || full.Reason != gossh.ResourceShortage {
		t.Fatalf("third session: %v", err)
	}
	first.typed("leave\r")
	first.until("Signed out.")
	first.sess.Wait()
	eventually(t, "a free place", func() bool {
		sess, err := c.NewSession()
		if err != nil {
			return false
		}
		sess.Close()
		return true
	})
}

func TestConnectionLimit(t *testing.T) {
	_, addr := start(t, func(c *Config) { c.MaxConnections = 1 })
	c := dial(t, addr)
	if silence(t, addr) != "" {
		t.Error("a second connection was spoken to")
	}
	c.Close()
	eventually(t, "a free place", func() bool {
		c, err := dialAs(addr, termtest.User, termtest.Password)
		if err != nil {
			return false
		}
		c.Close()
		return true
	})
}

// silence is what a fresh connection is told before it is closed.
func silence(t *testing.T, addr string) string {
	t.Helper()
	return heard(t, connect(t, addr))
}

func connect(t *testing.T, addr string) net.Conn {
	t.Helper()
	nc, err := net.Dial("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { nc.Close() })
	return nc
}

// heard is what comes over a connection before it is closed.
func heard(t *testing.T, nc net.Conn) string {
	t.Helper()
	defer nc.Close()
	nc.SetDeadline(time.Now().Add(30 * time.Second))
	told, err := io.ReadAll(nc)
	if ne, ok := err.(net.Error); ok && ne.Timeout() {
		t.Fatal("not closed")
	}
	return string(told)
}

// TestCardAway: without a card or without its address nobody is spoken to.
func TestCardAway(t *testing.T) {
	card, addr := start(t, nil)
	for name, away := range map[string]func(*snap.Device){
		"off":        func(d *snap.Device) { d.Card.State = snap.CardOff },
		"booting":    func(d *snap.Device) { d.Card.State = snap.CardBooting },
		"no address": func(d *snap.Device) { d.Card.Address = snap.Address{State: "searching"} },
	} {
		there := *card.Device()
		card.Change(away)
		if got := silence(t, addr); got != "" {
			t.Errorf("%s: told %q", name, got)
		}
		card.Change(func(d *snap.Device) { *d = there })
	}
	openDialog(t, dial(t, addr)).until("card> ")
}

// TestRestartEndsSessions: the connection breaks, as when a card goes down.
func TestRestartEndsSessions(t *testing.T) {
	card, addr := start(t, nil)
	c := dial(t, addr)
	openDialog(t, c).until("card> ")
	idle := dial(t, addr) // signed in, no session: of no use after the restart
	card.Change(func(d *snap.Device) { d.Card.Boots++ })
	if err := c.Wait(); err == nil {
		t.Error("closed with good-bye")
	}
	if hasDialog(idle) {
		t.Error("a connection from before the restart got a dialog")
	}
	openDialog(t, dial(t, addr)).until("card> ")
}

// hasDialog says whether c can still have a menu.
func hasDialog(c *gossh.Client) bool {
	sess, err := c.NewSession()
	if err != nil {
		return false
	}
	out, _ := sess.StdoutPipe()
	if sess.Shell() != nil {
		return false
	}
	text, _ := io.ReadAll(out)
	return len(text) > 0
}

// TestSignInTime: neither a silent connection nor one that signed in and never
// opens a session may stay, keep-alives or not.
func TestSignInTime(t *testing.T) {
	_, addr := start(t, func(c *Config) { c.SignInWithin = 5 * time.Second })
	silent, c := connect(t, addr), dial(t, addr)
	go func() {
		for {
			if _, _, err := c.SendRequest("keepalive@example.org", true, nil); err != nil {
				return
			}
			runtime.Gosched()
		}
	}()
	if err := c.Wait(); err == nil {
		t.Error("closed with good-bye")
	}
	if got := heard(t, silent); !strings.HasPrefix(got, "SSH-2.0-") {
		t.Errorf("told %q", got)
	}
}

// TestIdleDespiteKeepalives: the dialog's time-out runs on typing alone.
func TestIdleDespiteKeepalives(t *testing.T) {
	card, addr := start(t, func(c *Config) { c.Idle = 200 * time.Millisecond })
	c := dial(t, addr)
	d := openDialog(t, c)
	go func() {
		for {
			if _, _, err := c.SendRequest("keepalive@example.org", true, nil); err != nil {
				return
			}
			runtime.Gosched()
		}
	}()
	d.until("nothing was typed")
	if err := d.sess.Wait(); err != nil {
		t.Errorf("exit: %v", err)
	}
	c.Close()
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(time.Millisecond) { // the server sees it close in its own time
		list := card.Commands()
		if last := list[len(list)-1]; last.Op == snap.OpSignOut && last.Text == "nothing was typed" {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("the card was not told why: %+v", list)
		}
	}
}

// TestDeafClient never reads: its session ends instead of holding a place.
func TestDeafClient(t *testing.T) {
	_, addr := start(t, func(c *Config) { c.WriteWithin, c.MaxSessions = 100*time.Millisecond, 1 })
	c := dial(t, addr)
	ch, reqs, err := c.OpenChannel("session", nil)
	if err != nil {
		t.Fatal(err)
	}
	go gossh.DiscardRequests(reqs)
	if ok, err := ch.SendRequest("shell", true, nil); !ok || err != nil {
		t.Fatal(ok, err)
	}
	for range 10_000 { // more text than the window of a channel holds
		if _, err := io.WriteString(ch, "help\n"); err != nil {
			break
		}
	}
	c.Wait()
	again := dial(t, addr)
	var sess *gossh.Session
	eventually(t, "its place free", func() bool { // which it is a little after the end of the connection
		sess, err = again.NewSession()
		return err == nil
	})
	dialogOf(t, sess).until("card> ")
}

// TestGone: after the end of the simulation nobody signs in.
func TestGone(t *testing.T) {
	card, addr := start(t, nil)
	card.Refuse(snap.Result{Status: snap.Gone})
	if c, err := dialAs(addr, termtest.User, termtest.Password, "x"); err == nil {
		c.Close()
		t.Error("signed in")
	}
}

func TestHostKey(t *testing.T) {
	a, err := PublicKeyLine(HostKeyFromSeed([32]byte{1}))
	b, _ := PublicKeyLine(HostKeyFromSeed([32]byte{1}))
	c, _ := PublicKeyLine(HostKeyFromSeed([32]byte{2}))
	if err != nil || a != b || a == c || !strings.HasPrefix(a, "ssh-ed25519 AAAA") {
		t.Errorf("%q %q %q %v", a, b, c, err)
	}
}

func TestNewRefuses(t *testing.T) {
	if _, err := New(Config{Source: termtest.New()}); err == nil {
		t.Error("no host key: the library would make one up at each start")
	}
	if _, err := New(Config{HostKey: HostKeyFromSeed([32]byte{1})}); err == nil {
		t.Error("no source")
	}
}

// eventually waits for something that another goroutine brings about.
func eventually(t *testing.T, what string, f func() bool) {
	t.Helper()
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		if f() {
			return
		}
	}
	t.Fatalf("never: %s", what)
}

// TestShowKeepsRoles: show WORD on a command line gives a viewer nothing that WORD
// would not, also as data.
func TestShowKeepsRoles(t *testing.T) {
	card, addr := start(t, nil)
	card.Change(func(d *snap.Device) {
		d.Card.Accounts = slices.Clone(d.Card.Accounts)
		d.Card.Accounts[0].Role = snap.Viewer
	})
	c := dial(t, addr)
	for line, opens := range map[string]bool{
		"accounts": false, "show accounts": false, "show accounts --json": false, "show --json accounts": false,
		"status": true, "show status": true, "show status --json": true,
	} {
		sess, err := c.NewSession()
		if err != nil {
			t.Fatal(err)
		}
		var out, errs bytes.Buffer
		sess.Stdout, sess.Stderr = &out, &errs
		if err := sess.Run(line); (err == nil) != opens || (out.Len() > 0) != opens {
			t.Errorf("%q: %v, out %q", line, err, out.String())
		}
		if !opens && !strings.Contains(errs.String(), "takes the role administrator") {
			t.Errorf("%q: err %q", line, errs.String())
		}
	}
}
