package sim_test

import (
	"bytes"
	"net"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

// lossySite has a bad lead from the beginning, and a receiver of traps.
const lossySite = `
title = "lossy"
seed = 32
run_for = "24h"
[card]
must_change_password = false
address = "192.0.2.10/24"
read_community = "look"
receivers = [{ to = "192.0.2.20:162", version = "v2c", community = "tell"HOW }]
[[peer]]
name = "nms"
address = "192.0.2.20/24"
[[server]]
name = "box"
kind = "snmp"
address = "192.0.2.20"
sink = true
match = [{ name = "on", oid = "1.3.6.1.2.1.33.2.1" }]
[[host]]
name = "db"
draw_w = 300
[network]
LINK
`

func lossy(how, link string) string {
	return strings.NewReplacer("HOW", how, "LINK", link).Replace(lossySite)
}

const (
	ifSpeed    = ".1.3.6.1.2.1.2.2.1.5.1"
	ifInErrors = ".1.3.6.1.2.1.2.2.1.14.1"
)

// patient is a client of the card that repeats a request so often.
func (c *card) patient(retries int, timeout time.Duration) *gosnmp.GoSNMP {
	c.t.Helper()
	host, port, _ := net.SplitHostPort(c.ready.Endpoints.SNMP)
	n, _ := strconv.Atoi(port)
	g := &gosnmp.GoSNMP{Target: host, Port: uint16(n), Community: "look", Version: gosnmp.Version2c, Timeout: timeout, Retries: retries}
	if err := g.Connect(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { g.Conn.Close() })
	return g
}

// asks is how many of so many requests are not answered.
func asks(g *gosnmp.GoSNMP, n int) (unanswered int) {
	for range n {
		if _, err := g.Get([]string{sysDescr}); err != nil {
			unanswered++
		}
	}
	return unanswered
}

// TestRetriesOverALossyLink: row 8 of the needs. At 5 % loss each way one request in ten
// is not answered the first time (1 - 0.95^2): a client that repeats its requests has all of
// its data, one that does not notices. The card's port has counted what came damaged.
func TestRetriesOverALossyLink(t *testing.T) {
	c := serveText(t, lossy("", "loss_pct = 5"), sim.ServeOptions{})
	g := c.patient(8, 150*time.Millisecond)
	if n := asks(g, 60); n != 0 {
		t.Errorf("%d of 60 requests are not answered although they are repeated", n)
	}
	values := 0
	if err := g.BulkWalk(".1.3.6.1.2.1.33", func(gosnmp.SnmpPDU) error { values++; return nil }); err != nil || values < 50 {
		t.Errorf("walk: %d values, %v", values, err)
	}
	if n := asks(c.patient(0, 400*time.Millisecond), 120); n < 1 || n > 40 {
		t.Errorf("%d of 120 requests that nobody repeats are not answered; about 12 are meant", n)
	}
	c.reader = g
	for deadline := time.Now().Add(20 * time.Second); c.number(ifInErrors) == 0; {
		if time.Now().After(deadline) {
			t.Fatal("the port has counted nothing")
		}
	}
	c.send("network = { loss_pct = 100 }")
	if n := asks(c.patient(1, 100*time.Millisecond), 3); n != 3 {
		t.Errorf("%d of 3 requests are lost where all are", n)
	}
	c.send("network = { loss_pct = 0 }")
	if n := asks(c.patient(0, 10*time.Second), 50); n != 0 {
		t.Errorf("%d of 50 requests are lost over a good link", n)
	}
	c.end()
}

// TestBurstsOverAMismatch: one request after the other with time between them passes, a
// flood does not; what is wrong shows in the card's own port.
func TestBurstsOverAMismatch(t *testing.T) {
	c := serveText(t, lossy("", "port_mode = \"100-full\"\nmismatch_loss_pct = 100\nburst_window = \"20s\"\nburst_packets = 6"), sim.ServeOptions{})
	g := c.patient(0, 5*time.Second)
	if n := asks(g, 3); n != 0 {
		t.Errorf("%d of 3 requests are lost, which are no burst", n)
	}
	g.Timeout = 300 * time.Millisecond
	if n := asks(g, 2); n != 2 {
		t.Errorf("%d of 2 more within the window are lost", n)
	}
	c.send(`network = { port_mode = "auto" }`)
	if n := asks(c.patient(0, 10*time.Second), 20); n != 0 {
		t.Errorf("%d of 20 requests are lost where both ends agree", n)
	}
	c.until(ifSpeed, 100_000_000)
	c.end()
}

// TestTrapsOverALossyLink: what the engine says is lost never leaves, so that the real sink
// has what the peer has heard; informs are repeated until they arrive.
func TestTrapsOverALossyLink(t *testing.T) {
	for name, row := range map[string]struct {
		how   string
		speed float64 // so that one arrives before the next is sent
		until string
	}{
		"traps":   {"", 300, `sent.on_battery >= 20 and sinks.box.count == peers.nms.heard and peers.nms.heard < sent.on_battery + 4`},
		"informs": {`, inform = true, timeout = "100ms", retries = 10`, 60, `sent.on_battery >= 5 and sinks.box.matched.on == sent.on_battery and card.link_lost > 0`},
	} {
		var journal, trace bytes.Buffer
		c := serveText(t, lossy(row.how, "loss_pct = 30"), sim.ServeOptions{Speed: row.speed, Journal: &journal, Trace: &trace})
		c.send(`source = "lost"`)
		status, body := c.sendTo("/v1/wait", `{"until":"`+row.until+`","within":"100m"}`)
		if status != 200 || !strings.Contains(body, `"held":true`) {
			t.Errorf("%s: %d %s", name, status, body)
		}
		c.end()
		replaysAlike(t, &journal, &trace)
	}
}

// TestSSHOverASlowLink: what TCP carries comes late, and whole.
func TestSSHOverASlowLink(t *testing.T) {
	const delay = 25 * time.Millisecond
	c := serveText(t, lossy("", `delay = "25ms"`), sim.ServeOptions{})
	begin := time.Now()
	if out := c.command("link"); !strings.Contains(out, "100 Mbit/s, full duplex") {
		t.Errorf("%q", out)
	}
	if took := time.Since(begin); took < 8*delay { // versions, keys, sign-in and the command, each there and back
		t.Errorf("it took %v", took)
	}
	begin = time.Now()
	if asks(c.patient(0, 10*time.Second), 1) != 0 || time.Since(begin) < 2*delay {
		t.Errorf("SNMP took %v", time.Since(begin))
	}
	c.end()
}

// TestServedOnAnotherVLAN: a port that carries another VLAN lets nobody through.
func TestServedOnAnotherVLAN(t *testing.T) {
	c := serveText(t, lossy("", "port_vlan = 20"), sim.ServeOptions{})
	if c.from("127.0.0.1", false) || c.greets("127.0.0.1") {
		t.Error("somebody gets through")
	}
	c.send("network = { port_vlan = 0 }")
	if !c.from("127.0.0.1", true) || !c.greets("127.0.0.1") {
		t.Error("nobody gets through although the port is set right")
	}
	c.end()
}
