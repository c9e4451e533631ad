package logintest

import (
	"bufio"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

// Users that every server knows. Their passwords are the names with Tail behind;
// Reader is in no group, and gets no role.
const (
	Setter = "anna" // administrator
	Actor  = "bert" // operator
	Viewer = "cora" // viewer
	Reader = "dirk" // no role
	Tail   = "-waits-for-the-rain"
	Secret = "between us two" // of RADIUS
)

// Server is a server that runs until Stop, or the end of the test.
type Server struct {
	At   string // host and port
	stop func()
}

// Stop ends the server, and returns when it has gone.
func (s *Server) Stop() { s.stop() }

// start runs a program until it says ready, which it has to.
func start(t testing.TB, at, ready, program string, args ...string) *Server {
	t.Helper()
	cmd := exec.Command(program, args...)
	out, in := io.Pipe()
	cmd.Stdout, cmd.Stderr = in, in
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	up, all := make(chan bool, 1), new(strings.Builder)
	done := make(chan struct{})
	go func() {
		defer close(done)
		lines := bufio.NewScanner(out)
		for told := false; lines.Scan(); {
			if !told {
				all.WriteString(lines.Text() + "\n")
			}
			if !told && strings.Contains(lines.Text(), ready) {
				told = true
				up <- true
			}
		}
		close(up)
	}()
	ended := make(chan struct{})
	go func() { // a program that gives up says no more
		cmd.Wait()
		in.Close()
		close(ended)
	}()
	s := &Server{At: at, stop: sync.OnceFunc(func() {
		cmd.Process.Kill()
		<-ended
		<-done
	})}
	t.Cleanup(s.stop)
	late := time.AfterFunc(time.Minute, func() { cmd.Process.Kill() })
	defer late.Stop()
	if !<-up {
		t.Fatalf("%s never became ready:\n%s", program, all)
	}
	return s
}

// free is where nobody listens on loopback, of udp or tcp.
func free(t testing.TB, network string) string {
	t.Helper()
	own := net.JoinHostPort(checks.Loopback(), "0")
	if network == "udp" {
		c, err := net.ListenPacket("udp4", own)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		return c.LocalAddr().String()
	}
	l, err := net.Listen("tcp4", own)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func write(t testing.TB, dir, name, text string) string {
	t.Helper()
	path := filepath.Join(dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
