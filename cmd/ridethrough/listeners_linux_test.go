package main

import (
	"bufio"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestNothingElseListens compares what the process of a served scenario has open,
// as the system tells, with the list of objects --listeners and with the ready
// record. What the record names answers.
func TestNothingElseListens(t *testing.T) {
	for _, name := range []string{"two-rack-outage.toml", "fleet-outage.toml", "alerts-that-arrived.toml", "incidents/15-two-units.toml"} {
		t.Run(name, func(t *testing.T) { compareListeners(t, filepath.Join("..", "..", "scenarios", name)) })
	}
}

func compareListeners(t *testing.T, scenario string) {
	cmd := exec.CommandContext(t.Context(), "ridethrough", "serve", scenario, "--keep", "--speed", "60")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer end(cmd)
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	type endpoints struct{ SNMP, SSH, Bench string }
	var ready struct {
		Endpoints endpoints
		Devices   []struct{ Endpoints endpoints }
		Sinks     []struct{ Name, Kind, Endpoint string }
		Units     []struct {
			Name      string
			Endpoints endpoints
		}
	}
	if err := json.Unmarshal([]byte(line), &ready); err != nil {
		t.Fatalf("%v: %s", err, line)
	}
	told := map[string]string{} // what the ready record says, by transport and address
	for _, e := range append([]struct{ Endpoints endpoints }{{ready.Endpoints}}, ready.Devices...) {
		for surface, at := range map[string]string{"udp snmp": e.Endpoints.SNMP, "tcp ssh": e.Endpoints.SSH, "tcp bench": e.Endpoints.Bench} {
			if transport, name, _ := strings.Cut(surface, " "); at != "" {
				told[transport+" "+at] = name
			}
		}
	}
	for _, u := range ready.Units {
		told["udp "+u.Endpoints.SNMP], told["tcp "+u.Endpoints.SSH] = "snmp of "+u.Name, "ssh of "+u.Name
	}
	for _, k := range ready.Sinks {
		for _, transport := range map[string][]string{"mail": {"tcp"}, "syslog": {"tcp", "udp"}, "snmp": {"udp"}}[k.Kind] {
			told[transport+" "+k.Endpoint] = "sink " + k.Name
		}
	}
	diff := ""
	for range 100 { // the system's table leaves lines out while others open and close sockets
		if diff = cmp.Diff(keys(told), opened(t, cmd.Process.Pid)); diff == "" {
			break
		}
	}
	if diff != "" {
		t.Errorf("(-ready record +open):\n%s", diff)
	}
	surfaces := map[string]bool{}
	for _, name := range told {
		surfaces[name] = true
	}
	listed := map[string]bool{}
	text, err := exec.Command("ridethrough", "objects", "--listeners", "--json", scenario).Output()
	var list struct {
		Listeners []struct{ Surface, Transport, When string }
	}
	if err != nil || json.Unmarshal(text, &list) != nil {
		t.Fatalf("%v: %s", err, text)
	}
	for _, l := range list.Listeners {
		if l.Transport != "pty" && l.When == "" {
			listed[l.Surface] = true
		}
	}
	if diff := cmp.Diff(listed, surfaces); diff != "" {
		t.Errorf("(-listed +open):\n%s", diff)
	}
	for at, name := range told {
		if transport, address, _ := strings.Cut(at, " "); transport == "tcp" {
			c, err := net.Dial("tcp", address)
			if err != nil {
				t.Errorf("%s does not answer at %s: %v", name, address, err)
				continue
			}
			c.Close()
		}
	}
}

func keys(m map[string]string) (list []string) {
	for k := range m {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

// opened are the sockets of a process that take what comes from outside: TCP that
// listens, UDP that is not connected to a peer.
func opened(t *testing.T, pid int) (list []string) {
	t.Helper()
	own := map[string]bool{}
	links, err := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", pid))
	if err != nil || len(links) == 0 {
		t.Fatalf("no descriptors of %d: %v", pid, err)
	}
	for _, link := range links {
		if to, err := os.Readlink(link); err == nil && strings.HasPrefix(to, "socket:[") {
			own[strings.TrimSuffix(strings.TrimPrefix(to, "socket:["), "]")] = true
		}
	}
	for file, state := range map[string]string{"tcp": "0A", "tcp6": "0A", "udp": "07", "udp6": "07"} { // LISTEN, CLOSE: include/net/tcp_states.h of Linux
		text, err := os.ReadFile(fmt.Sprintf("/proc/%d/net/%s", pid, file))
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(string(text), "\n")[1:] {
			if f := strings.Fields(line); len(f) > 9 && f[3] == state && own[f[9]] {
				list = append(list, file[:3]+" "+address(t, f[1]).String())
			}
		}
	}
	slices.Sort(list)
	return list
}

// address reads an address as /proc/net has it: each 32 bits of it in the order
// of a little-endian machine.
func address(t *testing.T, text string) netip.AddrPort {
	t.Helper()
	host, port, _ := strings.Cut(text, ":")
	raw, err := hex.DecodeString(host)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+4 <= len(raw); i += 4 {
		slices.Reverse(raw[i : i+4])
	}
	a, ok := netip.AddrFromSlice(raw)
	var n uint16
	if _, err := fmt.Sscanf(port, "%X", &n); err != nil || !ok {
		t.Fatalf("%s: %v", text, err)
	}
	return netip.AddrPortFrom(a.Unmap(), n)
}
