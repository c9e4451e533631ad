package syslog

import (
	"bufio"
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

const rsyslogRules = `
global(workDirectory="DIR")
module(load="imtcp")
module(load="imudp")
input(type="imtcp" address="OWN" port="PORT")
input(type="imudp" address="OWN" port="PORT")
template(name="parts" type="string" string="%pri% %timestamp:::date-rfc3339% %hostname% %app-name% %msgid% %structured-data% %msg%\n")
action(type="ompipe" pipe="DIR/out" template="parts")
`

// TestRsyslog: a real collector takes our messages apart as RFC 5424 and RFC 3164 have it, over
// TCP with lengths and over UDP.
func TestRsyslog(t *testing.T) {
	daemon := checks.Program(t, "rsyslogd")
	dir := t.TempDir()
	out := filepath.Join(dir, "out")
	if err := syscall.Mkfifo(out, 0o600); err != nil {
		t.Skipf("no named pipes here: %v", err)
	}
	own := checks.Loopback()
	l, err := net.Listen("tcp", own+":0")
	if err != nil {
		t.Fatal(err)
	}
	at := l.Addr().String()
	_, port, _ := net.SplitHostPort(at)
	l.Close()
	rules := strings.NewReplacer("DIR", dir, "OWN", own, "PORT", port).Replace(rsyslogRules)
	if err := os.WriteFile(filepath.Join(dir, "conf"), []byte(rules), 0o600); err != nil {
		t.Fatal(err)
	}
	pipe, err := os.OpenFile(out, os.O_RDWR, 0) // so that neither side waits for the other
	if err != nil {
		t.Fatal(err)
	}
	defer pipe.Close()
	cmd := exec.Command(daemon, "-n", "-f", filepath.Join(dir, "conf"), "-i", filepath.Join(dir, "pid"))
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { cmd.Process.Signal(syscall.SIGTERM); cmd.Wait() }()
	const message = `<130>1 2026-03-02T07:55:01.500+01:00 ups-a ridethrough - on_battery [event@32473 id="1" note="a \"b\" \] c"] SIMULATION the load runs on battery`
	want := `130 2026-03-02T07:55:01.500+01:00 ups-a ridethrough on_battery [event@32473 id="1" note="a \"b\" \] c"] SIMULATION the load runs on battery`
	s, lines := New(), bufio.NewReader(pipe)
	defer s.Close()
	deadline := time.Now().Add(time.Minute)
	for s.Send(context.Background(), post(snap.SyslogTCP, "system", message), at) != nil {
		if time.Now().After(deadline) {
			t.Fatal("rsyslogd does not listen")
		}
		time.Sleep(10 * time.Millisecond) // until it listens: it has no signal for that
	}
	pipe.SetReadDeadline(deadline)
	for _, transport := range []snap.SyslogTransport{snap.SyslogTCP, snap.SyslogUDP} {
		if transport == snap.SyslogUDP {
			if err := s.Send(context.Background(), post(transport, "system", message), at); err != nil {
				t.Fatal(err)
			}
		}
		got, err := lines.ReadString('\n')
		if err != nil || strings.TrimSpace(got) != want {
			t.Errorf("%s: %v\ngot  %swant %s", transport, err, got, want)
		}
	}
	olderParts(t, s, lines, at)
}

// olderParts takes apart what the collector has made of a message of RFC 3164, but for
// the year and the zone, which are its own.
func olderParts(t *testing.T, s *Sender, lines *bufio.Reader, at string) {
	t.Helper()
	const message = `<130>Mar  2 07:55:01 ups-a ridethrough: on_battery id=1 class=power state=begins serial=RT0001 SIMULATION the load runs on battery`
	const want = `ups-a ridethrough - -  on_battery id=1 class=power state=begins serial=RT0001 SIMULATION the load runs on battery`
	for _, transport := range []snap.SyslogTransport{snap.SyslogTCP, snap.SyslogUDP} {
		if err := s.Send(context.Background(), post(transport, "system", message), at); err != nil {
			t.Fatal(err)
		}
		got, err := lines.ReadString('\n')
		f := strings.SplitN(strings.TrimSpace(got), " ", 3)
		if err != nil || len(f) < 3 || f[0] != "130" || !strings.Contains(f[1], "-03-02T07:55:01") || f[2] != want {
			t.Errorf("%s, the older form: %v\ngot  %swant 130 ...-03-02T07:55:01... %s", transport, err, got, want)
		}
	}
}
