package sim_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

// realSite is a card that this machine can be: at 127.77.1.5 and, with IPv6, at ::1.
const realSite = `
title = "real"
seed = 41
run_for = "24h"
[card]
read_community = "look"
address = "127.77.1.5/8"
[card.settings]
"reach.ipv6" = "fixed"
"reach.ipv6-address" = "::1/128"
[[host]]
name = "db"
draw_w = 300
`

var ownPorts = sim.ServeOptions{Real: true, SNMP: ":0", SSH: ":0"}

// ends are the endpoints of a card at its own addresses, as the bench has them now.
type ends struct {
	SNMP, SSH string
	SNMPv6    string `json:"snmp_v6"`
	SSHv6     string `json:"ssh_v6"`
}

func (c *card) ends() (e ends) {
	c.t.Helper()
	req, _ := http.NewRequest("GET", "http://"+c.ready.Endpoints.Bench+"/readyz", nil)
	req.Header.Set("Authorization", "Bearer "+c.ready.Token)
	resp, err := (&http.Client{Transport: &http.Transport{DisableKeepAlives: true}}).Do(req)
	if err != nil {
		c.t.Fatal(err)
	}
	defer resp.Body.Close()
	var r struct{ Endpoints ends }
	if err := json.NewDecoder(resp.Body).Decode(&r); err != nil {
		c.t.Fatal(err)
	}
	return r.Endpoints
}

// comes waits until the bench tells of endpoints with which ok is content.
func (c *card) comes(ok func(ends) bool) ends {
	c.t.Helper()
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		if e := c.ends(); ok(e) {
			return e
		}
	}
	c.t.Fatalf("the endpoints stay %+v", c.ends())
	return ends{}
}

// patience is how long a client waits for an answer that has to come, or for one that
// must not.
func patience(comes bool) (timeout time.Duration, retries int) {
	if comes {
		return 5 * time.Second, 5
	}
	return 250 * time.Millisecond, 2
}

// answersAt says whether the agent at an endpoint, which should, answers who asks from an
// address.
func answersAt(t *testing.T, endpoint, from string) bool {
	t.Helper()
	return asked(t, endpoint, from, true)
}

// asked asks the agent at an endpoint from an address, and says whether it answers; want
// is what it should do.
func asked(t *testing.T, endpoint, from string, want bool) bool {
	t.Helper()
	host, port, _ := net.SplitHostPort(endpoint)
	n, _ := strconv.Atoi(port)
	timeout, retries := patience(want)
	g := &gosnmp.GoSNMP{
		Target: host, Port: uint16(n), Community: "look", Version: gosnmp.Version2c, Timeout: timeout, Retries: retries,
		LocalAddr: net.JoinHostPort(from, "0"),
	}
	if err := g.Connect(); err != nil {
		t.Fatal(err)
	}
	defer g.Conn.Close()
	_, err := g.Get([]string{sysDescr})
	return err == nil
}

// greetsAt says whether the SSH server at an endpoint greets who comes from an address. It
// closes at once what it does not greet.
func greetsAt(t *testing.T, endpoint, from string) bool {
	t.Helper()
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 20 * time.Second}
	conn, err := d.Dial("tcp", endpoint)
	if err != nil {
		return false
	}
	defer conn.Close()
	conn.SetReadDeadline(time.Now().Add(20 * time.Second))
	n, _ := conn.Read(make([]byte, 3))
	return n > 0
}

// TestRealAddressAccess: at its own addresses a card goes by those that clients have.
// What the access list says is in force over IPv4 and IPv6 alike.
func TestRealAddressAccess(t *testing.T) {
	greets := func(t *testing.T, endpoint, from string, _ bool) bool { return greetsAt(t, endpoint, from) }
	for _, c := range []struct {
		list                string
		snmpA, snmpB, snmp6 bool // from 127.0.0.2, 127.0.0.3, ::1
		sshA, sshB, ssh6    bool
	}{
		{"", true, true, true, true, true, true},
		{`"access.allow.a.service" = "snmp"` + "\n" + `"access.allow.a.network" = "127.0.0.2/32"`, true, false, false, true, true, true},
		{`"access.allow.a.service" = "snmp"` + "\n" + `"access.allow.a.network" = "::1/128"`, false, false, true, true, true, true},
		{`"access.allow.a.service" = "ssh"` + "\n" + `"access.allow.a.network" = "127.0.0.3/32"`, true, true, true, false, true, false},
		{`"access.allow.a.service" = "all"` + "\n" + `"access.allow.a.network" = "127.0.0.0/8"`, true, true, false, true, true, false},
		{`"access.allow.a.service" = "all"` + "\n" + `"access.allow.a.network" = "127.0.0.2/32"` + "\n" +
			`"access.allow.b.service" = "snmp"` + "\n" + `"access.allow.b.network" = "::/0"`, true, false, true, true, false, false},
	} {
		o, trace := ownPorts, new(heard)
		o.Trace = trace
		card := serveText(t, strings.Replace(realSite, "[card.settings]\n", "[card.settings]\n"+c.list+"\n", 1), o)
		at := card.ends()
		if !strings.HasPrefix(at.SNMP, "127.77.1.5:") || !strings.HasPrefix(at.SSHv6, "[::1]:") {
			t.Fatalf("%+v", at)
		}
		for _, q := range []struct {
			endpoint, from string
			ask            func(*testing.T, string, string, bool) bool
			want           bool
		}{
			{at.SNMP, "127.0.0.2", asked, c.snmpA}, {at.SNMP, "127.0.0.3", asked, c.snmpB}, {at.SNMPv6, "::1", asked, c.snmp6},
			{at.SSH, "127.0.0.2", greets, c.sshA}, {at.SSH, "127.0.0.3", greets, c.sshB}, {at.SSHv6, "::1", greets, c.ssh6},
		} {
			if got := q.ask(t, q.endpoint, q.from, q.want); got != q.want {
				t.Errorf("%q: %s from %s: %v, want %v", c.list, q.endpoint, q.from, got, q.want)
			}
		}
		for told, admitted := range map[string]bool{
			"turns away snmp from 127.0.0.3": c.snmpB, "turns away snmp from ::1": c.snmp6, "turns away ssh from 127.0.0.2": c.sshA, "turns away ssh from ::1": c.ssh6,
		} {
			if !admitted {
				trace.comes(t, told)
			} else if strings.Contains(trace.String(), told) {
				t.Errorf("%q: %q is told", c.list, told)
			}
		}
		card.end()
	}
}

// heard is output that a test looks at while it is written.
type heard struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (h *heard) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.Write(p)
}

func (h *heard) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.String()
}

func (h *heard) comes(t *testing.T, text string) {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		if strings.Contains(h.String(), text) {
			return
		}
	}
	t.Errorf("never told: %q", text)
}

// TestRealAddressFollows: the surfaces are where the card is. With another address
// they go there, at the same ports; without one they are nowhere, and who was
// connected is no longer.
func TestRealAddressFollows(t *testing.T) {
	text := strings.Replace(realSite, "[card]\n", "[card]\nboot_takes = \"10ms\"\n", 1) + "[network]\noffer = \"127.77.1.6/8\"\nlease = \"2m\"\n"
	o := ownPorts
	o.Speed = 60
	c := serveText(t, text, o)
	before := c.ends()
	conn, err := net.Dial("tcp", before.SSH)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	banner := make([]byte, 1)
	if _, err := conn.Read(banner); err != nil {
		t.Fatal(err)
	}
	c.send(`settings = { "reach.mode" = "dhcp", "reach.ipv6" = "off" }`)
	c.send(`card = "restart"`)
	after := c.comes(func(e ends) bool { return strings.HasPrefix(e.SNMP, "127.77.1.6:") })
	if want := strings.Replace(before.SNMP, "1.5:", "1.6:", 1); after.SNMP != want || after.SNMPv6 != "" || after.SSHv6 != "" {
		t.Errorf("from %+v to %+v", before, after)
	}
	if !answersAt(t, after.SNMP, "127.0.0.1") || asked(t, before.SNMP, "127.0.0.1", false) || greetsAt(t, before.SSH, "127.0.0.1") || greetsAt(t, before.SSHv6, "::1") {
		t.Error("the card is not where its address is")
	}
	conn.SetReadDeadline(time.Now().Add(10 * time.Second))
	conn.Write([]byte("SSH-2.0-x\r\n"))
	for err == nil {
		_, err = conn.Read(banner)
	}
	if ne, ok := err.(net.Error); ok && ne.Timeout() {
		t.Error("who was connected at the old address still is")
	}
	c.send(`network = { offer = "127.77.1.7/8" }`) // the server refuses the next renewal
	after = c.comes(func(e ends) bool { return strings.HasPrefix(e.SNMP, "127.77.1.7:") })
	c.send(`link = "down"`)
	c.comes(func(e ends) bool { return e == ends{} })
	if greetsAt(t, after.SSH, "127.0.0.1") {
		t.Error("a card without a link answers")
	}
	c.send(`link = "up"`)
	c.comes(func(e ends) bool { return e == after })
	if !answersAt(t, after.SNMP, "127.0.0.1") {
		t.Error("a card with a link again does not answer")
	}
	c.end()
}

// TestRealAddressMissing: an address that this machine does not have is an error when
// the session begins; later it is said, and bound as soon as it is there.
func TestRealAddressMissing(t *testing.T) {
	refused := func(address string, expose bool) error {
		s, err := sim.Parse(filepath.Join(t.TempDir(), "real.toml"), []byte(strings.Replace(realSite, "127.77.1.5/8", address, 1)))
		if err != nil {
			t.Fatal(err)
		}
		o := ownPorts
		o.Expose = expose
		_, err = sim.Serve(context.Background(), s, o)
		return err
	}
	var io *sim.IOError
	if err := refused("192.0.2.10/24", true); !errors.As(err, &io) || err.Error() != "cannot bind snmp 192.0.2.10:0: this machine does not have the card's address: give it to an interface, or leave that to --interface" {
		t.Errorf("%v", err)
	}
	var invalid *sim.InvalidError
	if err := refused("192.0.2.10/24", false); !errors.As(err, &invalid) || !strings.Contains(err.Error(), "--expose") {
		t.Errorf("%v", err)
	}
	c := serveText(t, strings.Replace(realSite, "[card]\n", "[card]\nboot_takes = \"10ms\"\n", 1), ownPorts)
	c.send(`settings = { "reach.address" = "192.0.2.10/24" }`)
	c.send(`card = "restart"`)
	if e := c.comes(func(e ends) bool { return e.SNMP == "" && e.SNMPv6 != "" }); !answersAt(t, e.SNMPv6, "::1") {
		t.Error("the other address went with it")
	}
	c.end()
}
