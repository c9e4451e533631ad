package record

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

// TestRealAgent: an agent that is not ours, a general one, is read in every version,
// with its date. It has nothing of RFC 1628, which is no reason to fail.
func TestRealAgent(t *testing.T) {
	snmpd := checks.Program(t, "snmpd")
	dir := t.TempDir()
	conf := filepath.Join(dir, "snmpd.conf")
	text := "rocommunity watchword 127.0.0.1\ncreateUser watcher SHA-256 \"first pass phrase\" AES \"second pass phrase\"\nrouser watcher priv\n"
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	at := freePort(t)
	cmd := exec.Command(snmpd, "-f", "-C", "-c", conf, "-Lf", filepath.Join(dir, "log"), "-p", filepath.Join(dir, "pid"), "udp:"+at)
	cmd.Env = append(os.Environ(), "SNMP_PERSISTENT_DIR="+dir)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	wait := config(at, "2c")
	wait.Timeout, wait.Retries = time.Second, 20 // until it is up: it says so nowhere
	client, err := wait.Login.dial(at, wait.Timeout, wait.Retries)
	if err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(time.Minute); ; { // a closed port refuses at once
		if _, err = client.GetNext([]string{"1.3.6.1.2.1.1"}); err == nil || time.Now().After(deadline) {
			break
		}
		time.Sleep(5 * time.Millisecond)
	}
	client.Conn.Close()
	if err != nil {
		t.Fatal(err)
	}
	for _, version := range []string{"1", "2c", "3"} {
		c := config(at, version)
		b, s := recorded(t, c, count(`"reading"`, 2))
		if len(b.Readings) < 2 || len(b.Readings[0].Objects) < 30 {
			t.Errorf("version %s: %d readings", version, len(b.Readings))
		}
		if !s.Clocks.Dated || s.Clocks.Ahead.Abs() > s.Clocks.Within+time.Second {
			t.Errorf("version %s: this machine's date is %v (%v) ahead of itself", version, s.Clocks.Ahead, s.Clocks.Dated)
		}
	}
}

// freePort is an address of UDP that was free just now.
func freePort(t *testing.T) string {
	t.Helper()
	conn, err := net.ListenPacket("udp", checks.Loopback()+":0")
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	return fmt.Sprint(conn.LocalAddr())
}
