package sim_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/host/timeclient"
)

// timeless is a card that nobody has set the clock of, and that asks one server.
const timeless = `
title = "an unset clock"
run_for = "24h"
[[time_server]]
name = "one"
address = "198.51.100.5"
[card]
must_change_password = false
[card.clock]
set = false
`

// chrony starts a time server on that address of loopback, which serves this machine's own time and
// sets nothing. It is there when it is returned, and is stopped with the test.
func chrony(t *testing.T, own string) (endpoint string) {
	t.Helper()
	program := checks.Program(t, "chronyd")
	free, err := net.ListenPacket("udp", net.JoinHostPort(own, "0"))
	if err != nil {
		t.Skipf("this machine has no %s: %v", own, err)
	}
	endpoint = free.LocalAddr().String()
	_, port, _ := net.SplitHostPort(endpoint)
	free.Close()
	dir := t.TempDir()
	conf := filepath.Join(dir, "conf")
	text := fmt.Sprintf("port %s\nbindaddress %s\nallow 127.0.0.1\nallow ::1\nlocal stratum 5\ncmdport 0\nbindcmdaddress %s/socket\npidfile %s/pid\n", port, own, dir, dir)
	if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "-d", "-x", "-U", "-u", account(), "-F", "0", "-f", conf)
	talk, err := os.Create(filepath.Join(dir, "talk")) // a file, so that nothing runs beside the test
	if err != nil {
		t.Fatal(err)
	}
	defer talk.Close()
	cmd.Stdout, cmd.Stderr = talk, talk
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	for deadline := time.Now().Add(time.Minute); ; {
		if r := timeclient.Query(context.Background(), endpoint); r.Failed == "" && r.Stratum == 5 {
			return endpoint
		} else if time.Now().After(deadline) {
			said, _ := os.ReadFile(talk.Name())
			t.Fatalf("chronyd does not answer: %+v\n%s", r, said)
		}
	}
}

// account is whose the server runs as: it gives up no rights on files of the test.
func account() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return "root"
}

// TestClockByChrony: the card's clock is set by a real server to this machine's
// time, and the session can be repeated without the server.
func TestClockByChrony(t *testing.T) {
	byChrony(t, timeless, "198.51.100.5", chrony(t, checks.Loopback()))
}

// TestClockByChronySix: the same over IPv6.
func TestClockByChronySix(t *testing.T) {
	six := strings.Replace(timeless, "198.51.100.5", "2001:db8::5", 1)
	byChrony(t, six+"[card.settings]\n\"reach.ipv6\" = \"fixed\"\n\"reach.ipv6-address\" = \"2001:db8::10/64\"\n", "2001:db8::5", chrony(t, "::1"))
}

func byChrony(t *testing.T, text, server, endpoint string) {
	t.Helper()
	journal := filepath.Join(t.TempDir(), "journal")
	file, err := os.Create(journal)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	c := serveText(t, text, sim.ServeOptions{
		Speed: 1, Journal: file, Receivers: map[netip.AddrPort]string{netip.AddrPortFrom(netip.MustParseAddr(server), 123): endpoint},
	})
	var shown struct {
		Date  time.Time
		Set   bool
		SetBy string `json:"set_by"`
	}
	for deadline := time.Now().Add(time.Minute); !shown.Set; {
		if time.Now().After(deadline) {
			t.Fatalf("never set: %+v", shown)
		}
		text, status, _ := c.shell("clock --json", "")
		if err := json.Unmarshal([]byte(text), &shown); err != nil || status != 0 {
			t.Fatalf("%d %q: %v", status, text, err)
		}
	}
	if shown.SetBy != "one" || time.Since(shown.Date).Abs() > time.Minute {
		t.Errorf("%+v, here it is %v", shown, time.Now())
	}
	c.end()
	if _, err := sim.Replay(journal, sim.ReplayOptions{}); err != nil {
		t.Errorf("replay: %v", err)
	}
}
