package sim_test

import (
	"bytes"
	"net"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
	"ridethrough/sim/internal/checks"
)

const twoUnits = `
title = "two units"
seed = 57
run_for = "24h"
[card]
address = "192.0.2.10/24"
must_change_password = false
read_community = "look"
write_community = "touch"
receivers = [{ to = "198.51.100.20:162", version = "v2c", community = "first" }]
[[unit]]
name = "b"
[unit.card]
address = "192.0.2.11/24"
must_change_password = false
read_community = "look-b"
write_community = "touch-b"
receivers = [{ to = "198.51.100.20:162", version = "v2c", community = "second" }]
[[group]]
name = "rack_a"
[[group]]
name = "rack_b"
unit = "b"
[[host]]
name = "both"
groups = ["rack_a", "rack_b"]
draw_w = 600
`

// other is the card of the i-th further unit.
func (c *card) other(i int) *card {
	o := &card{t: c.t, ready: c.ready}
	u := &c.ready.Units[i]
	o.ready.Endpoints.SNMP, o.ready.Endpoints.SSH, o.ready.Endpoints.Serial = u.Endpoints.SNMP, u.Endpoints.SSH, u.Endpoints.Serial
	o.ready.Label, o.ready.Units = u.Label, nil
	o.reader = o.snmp(u.Community)
	return o
}

const outputPower = ".1.3.6.1.2.1.33.1.4.4.1.4.1"

// TestServedUnits: each unit has a card of its own, which is read, told and switched by
// itself, and the bench reaches both.
func TestServedUnits(t *testing.T) {
	receiver, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer receiver.Close()
	c := serveText(t, twoUnits, sim.ServeOptions{Speed: 60, Receivers: map[netip.AddrPort]string{netip.MustParseAddrPort("198.51.100.20:162"): receiver.LocalAddr().String()}})
	if len(c.ready.Units) != 1 || c.ready.Units[0].Name != "b" || c.ready.Units[0].Label.SerialNumber == c.ready.Label.SerialNumber {
		t.Fatalf("%+v", c.ready.Units)
	}
	b := c.other(0)
	if one, other := c.number(outputPower), b.number(outputPower); one != 300 || other != 300 {
		t.Errorf("%d W and %d W", one, other)
	}
	if code, body := c.send("unit = \"b\"\ninput = \"open\""); code != 200 {
		t.Fatalf("%d %s", code, body)
	}
	b.until(outputSource, 5)
	if c.number(outputSource) != 3 {
		t.Error("the first unit is on battery, too")
	}
	hears(t, receiver, "second")

	stranger := b.snmp("look")
	stranger.Timeout, stranger.Retries = 300*time.Millisecond, 0
	if p, err := stranger.Get([]string{outputSource}); err == nil {
		t.Errorf("the second card takes the community of the first: %+v", p.Variables)
	}
	if text, status, _ := b.shell("outlet off rack_b --confirm", ""); status != 0 {
		t.Fatalf("%d: %s", status, text)
	}
	b.until(outputPower, 0)
	c.until(outputPower, 600)
	if text, status, _ := c.shell("outlet on rack_b --confirm", ""); status == 0 {
		t.Errorf("the first card switched a group of the second: %s", text)
	}
	set, err := b.snmp("touch-b").Set([]gosnmp.SnmpPDU{{Name: shutdownAfter, Type: gosnmp.Integer, Value: 60}})
	if err != nil || set.Error != gosnmp.NoError {
		t.Fatal(err, set)
	}
	if c.number(shutdownAfter) != -1 {
		t.Error("the first card counts down, too")
	}
	b.until(outputSource, 2)
	c.end()
}

// hears waits for a notification with that community.
func hears(t *testing.T, receiver *net.UDPConn, community string) {
	t.Helper()
	receiver.SetReadDeadline(time.Now().Add(time.Minute))
	for buffer := make([]byte, 2000); ; {
		n, _, err := receiver.ReadFrom(buffer)
		if err != nil {
			t.Fatalf("no notification of %q: %v", community, err)
		}
		if bytes.Contains(buffer[:n], []byte(community)) {
			return
		}
	}
}

// TestUnitsRemember: each card keeps its own starts and settings from one session to
// the next, in one state, and a journal of both replays.
func TestUnitsRemember(t *testing.T) {
	dir := t.TempDir()
	var journal, trace bytes.Buffer
	opts := sim.ServeOptions{Speed: 60, State: dir, Journal: &journal, Trace: &trace}
	c := serveText(t, twoUnits, opts)
	b := c.other(0)
	if text, status, _ := b.shell("set identity.contact=ann", ""); status != 0 {
		t.Fatalf("%d: %s", status, text)
	}
	c.end()
	replaysAlike(t, &journal, &trace)

	journal.Reset()
	trace.Reset()
	c = serveText(t, twoUnits, opts)
	b = c.other(0)
	if c.number(snmpEngineBoots) != 2 || b.number(snmpEngineBoots) != 2 {
		t.Errorf("started %d and %d times", c.number(snmpEngineBoots), b.number(snmpEngineBoots))
	}
	one, _, _ := c.shell("show identity", "")
	other, _, _ := b.shell("show identity", "")
	if strings.Contains(one, "ann") || !strings.Contains(other, "ann") {
		t.Errorf("%s\n%s", one, other)
	}
	c.end()
	replaysAlike(t, &journal, &trace)
}

// TestUnitsWhere: what stands after commas is where further cards are, and nothing may
// stand for a card that is not there.
func TestUnitsWhere(t *testing.T) {
	taken, err := net.ListenPacket("udp", checks.Loopback()+":0")
	if err != nil {
		t.Fatal(err)
	}
	at := taken.LocalAddr().String()
	taken.Close()
	c := serveText(t, twoUnits, sim.ServeOptions{SNMP: "127.0.0.1:0," + at})
	if got := c.ready.Units[0].Endpoints.SNMP; got != at {
		t.Errorf("the second card is at %s, not at %s", got, at)
	}
	c.end()
	for _, opts := range []sim.ServeOptions{
		{SNMP: "127.0.0.1:0,127.0.0.1:0,127.0.0.1:0"}, {Serial: "a,b,c"}, {Interface: "lo", Real: true, Expose: true},
		{SNMP: "127.0.0.1:0,192.0.2.1:161"},
	} {
		s, err := sim.Parse("two.toml", []byte(twoUnits))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := sim.Serve(t.Context(), s, opts); err == nil {
			t.Errorf("%+v was taken", opts)
		}
	}
}
