package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// leasing is a card that takes its address from whoever lends it one.
const leasing = `
title = "leased"
seed = 3
run_for = "24h"
[card]
read_community = "look"
[card.settings]
"reach.without-lease" = "link-local"
[[host]]
name = "db"
draw_w = 300
`

// lending is the configuration of the DHCP server. The lease is short: a half of it is
// 4 s.
const lending = `
start 198.18.77.50
end 198.18.77.50
interface rt-lan
lease_file %[1]s/leases
pidfile %[1]s/pid
min_lease 5
option subnet 255.255.255.0
option router 198.18.77.1
option lease 8
`

// ground is two network namespaces with a wire between them: the site's, with an
// address server and clients, and the card's. All of it goes with the test.
type ground struct {
	t          *testing.T
	dir        string
	site, card string
	server     *exec.Cmd
}

func lay(t *testing.T) *ground {
	t.Helper()
	g := &ground{t: t, dir: t.TempDir(), site: fmt.Sprintf("rt-site-%d", os.Getpid()), card: fmt.Sprintf("rt-card-%d", os.Getpid())}
	t.Setenv("PATH", os.Getenv("PATH")+":/usr/sbin:/sbin")
	why := ""
	if os.Geteuid() != 0 {
		why = "network namespaces take root"
	}
	for _, tool := range []string{"ip", "udhcpd", "snmpget"} {
		if _, err := exec.LookPath(tool); err != nil && why == "" {
			why = err.Error()
		}
	}
	if why == "" {
		for _, name := range []string{g.site, g.card} {
			t.Cleanup(func() { exec.Command("ip", "netns", "del", name).Run() })
			if out, err := exec.Command("ip", "netns", "add", name).CombinedOutput(); err != nil {
				why = "no network namespace: " + string(out)
			}
		}
	}
	if why != "" && os.Getenv("CI") == "true" {
		t.Fatal(why)
	} else if why != "" {
		t.Skip(why)
	}
	for _, line := range []string{
		"link add rt-lan netns " + g.site + " type veth peer name rt-port netns " + g.card,
		"-n " + g.site + " link set lo up", "-n " + g.site + " link set rt-lan up", "-n " + g.site + " addr add 198.18.77.1/24 dev rt-lan",
		"-n " + g.card + " link set lo up", "-n " + g.card + " link set rt-port up",
	} {
		if out, err := exec.Command("ip", strings.Fields(line)...).CombinedOutput(); err != nil {
			t.Fatalf("ip %s: %v: %s", line, err, out)
		}
	}
	return g
}

// in runs a command in a namespace and returns what it says.
func (g *ground) in(ns string, line ...string) string {
	out, _ := exec.Command("ip", append([]string{"netns", "exec", ns}, line...)...).CombinedOutput()
	return string(out)
}

// start starts a command in a namespace and ends it with the test.
func (g *ground) start(ns string, out *watched, line ...string) *exec.Cmd {
	g.t.Helper()
	cmd := exec.Command("ip", append([]string{"netns", "exec", ns}, line...)...)
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		g.t.Fatal(err)
	}
	g.t.Cleanup(func() { end(cmd) })
	return cmd
}

// end asks a program to end and makes it, if it does not: who was started in the background
// of a shell may be deaf to an interrupt.
func end(cmd *exec.Cmd) {
	cmd.Process.Signal(syscall.SIGTERM)
	late := time.AfterFunc(20*time.Second, func() { cmd.Process.Kill() })
	defer late.Stop()
	cmd.Wait()
}

func (g *ground) lend() {
	g.t.Helper()
	conf := filepath.Join(g.dir, "udhcpd.conf")
	if err := os.WriteFile(conf, fmt.Appendf(nil, lending, g.dir), 0o600); err != nil {
		g.t.Fatal(err)
	}
	os.WriteFile(filepath.Join(g.dir, "leases"), nil, 0o600)
	out := &watched{t: g.t}
	g.server = g.start(g.site, out, "udhcpd", "-f", conf)
	out.says("started")
}

// lendNothing ends the server.
func (g *ground) lendNothing() {
	g.t.Helper()
	g.server.Process.Kill()
	g.server.Wait()
}

// watched is output for which a test waits.
type watched struct {
	t    *testing.T
	mu   sync.Mutex
	text bytes.Buffer
	from int // what was waited for is before
}

func (w *watched) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.text.Write(p)
}

// says waits for the next match of pattern, and returns it.
func (w *watched) says(pattern string) string {
	w.t.Helper()
	re := regexp.MustCompile(pattern)
	for deadline := time.Now().Add(90 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		w.mu.Lock()
		at := re.FindIndex(w.text.Bytes()[w.from:])
		if at != nil {
			found := string(w.text.Bytes()[w.from+at[0] : w.from+at[1]])
			w.from += at[1]
			w.mu.Unlock()
			return found
		}
		w.mu.Unlock()
	}
	w.t.Fatalf("never says %q:\n%s", pattern, w.text.String())
	return ""
}

// leases counts, in the record of the session, what the server said.
func leases(t *testing.T, journal, kind string) (n int) {
	text, err := os.ReadFile(journal)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		var e struct {
			Command struct {
				Lease *struct{ Kind string }
			}
		}
		if json.Unmarshal([]byte(line), &e) == nil && e.Command.Lease != nil && e.Command.Lease.Kind == kind {
			n++
		}
	}
	return n
}

// TestRealLease: the card on an interface takes a lease of a real server, is reached
// from another machine, asks for more in time, and gives the address up when the
// server is gone; then it does what is set, until the server is back.
func TestRealLease(t *testing.T) {
	g := lay(t)
	g.lend()
	scenario, journal := filepath.Join(g.dir, "leased.toml"), filepath.Join(g.dir, "journal")
	live, again := filepath.Join(g.dir, "live"), filepath.Join(g.dir, "again")
	if err := os.WriteFile(scenario, []byte(leasing), 0o600); err != nil {
		t.Fatal(err)
	}
	out := &watched{t: t}
	card := g.start(g.card, out, "ridethrough", "serve", "--bind", "real", "--interface", "rt-port", "--expose", "--journal", journal, "--trace", live, scenario)
	out.says(`"ready":true`)
	out.says(`listens at snmp 198\.18\.77\.50:161, ssh 198\.18\.77\.50:22\n`)
	ask := func(host string) string {
		return g.in(g.site, "snmpget", "-v2c", "-c", "look", "-t", "5", "-r", "3", "-On", host, ".1.3.6.1.2.1.1.1.0")
	}
	if got := ask("198.18.77.50"); !strings.Contains(got, "SIMULATION") {
		t.Errorf("over the wire: %s\n%s", got, out.text.String())
	}
	if got := g.in(g.card, "ip", "-4", "addr", "show", "dev", "rt-port"); !strings.Contains(got, "198.18.77.50/24") || !strings.Contains(got, "valid_lft") || strings.Contains(got, "valid_lft forever") {
		t.Errorf("the interface has %s", got)
	}
	for deadline := time.Now().Add(time.Minute); leases(t, journal, "ack") < 2; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("the lease is never renewed\n%s", out.text.String())
		}
	}
	g.lendNothing()
	out.says(`listens nowhere`)
	if got := g.in(g.card, "ip", "-4", "addr", "show", "dev", "rt-port"); strings.Contains(got, "198.18.77.50") {
		t.Errorf("after the lease the interface has %s", got)
	}
	local := out.says(`listens at snmp 169\.254\.\d+\.\d+`)
	if got := g.in(g.card, "ip", "-4", "addr", "show", "dev", "rt-port"); !strings.Contains(got, strings.TrimPrefix(local, "listens at snmp ")+"/16") {
		t.Errorf("with %q the interface has %s", local, got)
	}
	g.lend()
	out.says(`listens at snmp 198\.18\.77\.50:161`)
	if got := ask("198.18.77.50"); !strings.Contains(got, "SIMULATION") {
		t.Errorf("again over the wire: %s", got)
	}
	end(card)
	if got := g.in(g.card, "ip", "-4", "addr", "show", "dev", "rt-port"); strings.Contains(got, "inet ") {
		t.Errorf("the session leaves %s", got)
	}
	if out, err := exec.Command("ridethrough", "replay", "--trace", again, journal).CombinedOutput(); err != nil { // where there is no such interface
		t.Errorf("the record of the session: %v\n%s", err, out)
	}
	trace := read(t, live)
	if first := regexp.MustCompile(`(?m)^\S+ card: address .*$`).FindString(trace); !strings.HasSuffix(first, "card: address 198.18.77.50/24 (leased)") || strings.Contains(trace, "192.0.2.") {
		t.Errorf("the card comes to its first address by %q:\n%s", first, trace)
	}
	if read(t, again) != trace {
		t.Errorf("the replay has the trace\n%s\nand not\n%s", read(t, again), trace)
	}
}

func read(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

const placed = `
title = "placed"
seed = 3
run_for = "24h"
[card]
read_community = "look"
boot_takes = "10ms"
address = "198.18.77.20/24"
gateway = "198.18.77.1"
[card.settings]
"reach.ipv6" = "fixed"
"reach.ipv6-address" = "2001:db8:77::20/64"
[[host]]
name = "db"
draw_w = 300
`

// TestRealInterface: fixed addresses of the card are put on its interface, IPv4 and
// IPv6, and change with its settings; the access list is in force on both.
func TestRealInterface(t *testing.T) {
	g := lay(t)
	if out, err := exec.Command("ip", "-n", g.site, "addr", "add", "2001:db8:77::1/64", "dev", "rt-lan", "nodad").CombinedOutput(); err != nil {
		t.Skipf("no IPv6 here: %s", out)
	}
	scenario, ready := filepath.Join(g.dir, "placed.toml"), filepath.Join(g.dir, "ready")
	if err := os.WriteFile(scenario, []byte(placed), 0o600); err != nil {
		t.Fatal(err)
	}
	out := &watched{t: t}
	g.start(g.card, out, "ridethrough", "serve", "--bind", "real", "--interface", "rt-port", "--expose", "--snmp", ":1161", "--ssh", ":1022", "--ready-file", ready, scenario)
	out.says(`"snmp":"198\.18\.77\.20:1161","ssh":"198\.18\.77\.20:1022","snmp_v6":"\[2001:db8:77::20\]:1161"`)
	check := func(what string, want bool, target string) {
		t.Helper()
		patience := map[bool]string{true: "5", false: "1"}[want]
		got := g.in(g.site, "snmpget", "-v2c", "-c", "look", "-t", patience, "-r", "2", "-On", target, ".1.3.6.1.2.1.1.1.0")
		if strings.Contains(got, "SIMULATION") != want {
			t.Errorf("%s: %s answers: %s", what, target, got)
		}
	}
	send := func(entry string) {
		t.Helper()
		if said := g.in(g.card, "ridethrough", "send", "--ready-file", ready, entry); strings.Contains(said, "ridethrough:") {
			t.Fatalf("%s: %s", entry, said)
		}
	}
	check("at first", true, "udp:198.18.77.20:1161")
	check("at first", true, "udp6:[2001:db8:77::20]:1161")
	send(`settings = { "access.allow.desk.network" = "2001:db8:77::/64" }`)
	check("IPv6 alone is allowed", false, "udp:198.18.77.20:1161")
	check("IPv6 alone is allowed", true, "udp6:[2001:db8:77::20]:1161")
	send(`settings = { "access.allow.desk.network" = "198.18.77.1/32", "reach.address" = "198.18.77.21/24" }`)
	check("IPv4 alone is allowed", false, "udp6:[2001:db8:77::20]:1161")
	send(`card = "restart"`)
	out.says(`listens at snmp 198\.18\.77\.21:1161`)
	check("moved", true, "udp:198.18.77.21:1161")
	check("moved", false, "udp:198.18.77.20:1161")
	if got := g.in(g.card, "ip", "addr", "show", "dev", "rt-port"); strings.Contains(got, "198.18.77.20/") || !strings.Contains(got, "198.18.77.21/24") || !strings.Contains(got, "2001:db8:77::20/64") {
		t.Errorf("the interface has %s", got)
	}
}
