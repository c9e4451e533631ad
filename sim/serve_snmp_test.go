package sim_test

import (
	"bytes"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

const sealed = `
title = "sealed"
seed = 21
run_for = "24h"
[card]
read_community = "look"
boot_takes = "5s"
versions = ["v2c", "v3"]
engine_time = "real"
receivers = [
  { to = "198.51.100.20:162", inform = true, retries = 1, timeout = "5s" },
  { to = "198.51.100.21:162", inform = true, retries = 0, timeout = "10ms" },
]
[[card.snmp_user]]
name = "watch"
auth = "sha-256"
auth_password = "first passphrase"
priv = "aes-128"
priv_password = "second passphrase"
[[host]]
name = "db"
draw_w = 300
[[expect]]
name = "somebody knows"
that = "acknowledged.on_battery == 1"
once = true
[[expect]]
name = "somebody does not"
that = "unacknowledged.on_battery == 1"
once = true
`

func (c *card) snmp3() *gosnmp.GoSNMP {
	c.t.Helper()
	host, port, _ := net.SplitHostPort(c.ready.Endpoints.SNMP)
	n, _ := strconv.Atoi(port)
	g := &gosnmp.GoSNMP{
		Target: host, Port: uint16(n), Version: gosnmp.Version3, Timeout: 5 * time.Second,
		SecurityModel: gosnmp.UserSecurityModel, MsgFlags: gosnmp.AuthPriv,
		SecurityParameters: &gosnmp.UsmSecurityParameters{
			UserName:               "watch",
			AuthenticationProtocol: gosnmp.SHA256, AuthenticationPassphrase: "first passphrase",
			PrivacyProtocol: gosnmp.AES, PrivacyPassphrase: "second passphrase",
		},
	}
	if err := g.Connect(); err != nil {
		c.t.Fatal(err)
	}
	c.t.Cleanup(func() { g.Conn.Close() })
	return g
}

// sink acknowledges informs until it is stopped, which has to be before the
// test ends.
func sink(t *testing.T) (conn *net.UDPConn, stop func()) {
	t.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		buf := make([]byte, 4096)
		for {
			n, from, err := conn.ReadFromUDP(buf)
			if err != nil {
				return
			}
			p, err := (&gosnmp.GoSNMP{Version: gosnmp.Version2c}).UnmarshalTrap(buf[:n], false)
			if err != nil || p.PDUType != gosnmp.InformRequest {
				t.Errorf("got %v, %v", p, err)
				continue
			}
			p.PDUType = gosnmp.GetResponse
			out, err := p.MarshalMsg()
			if err != nil {
				t.Error(err)
				continue
			}
			conn.WriteToUDP(out, from)
		}
	}()
	return conn, func() { conn.Close(); <-ended }
}

// silent is an endpoint that never answers.
func silent(t *testing.T) *net.UDPConn {
	t.Helper()
	conn, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return conn
}

// TestServedCardSpeaksV3 reads over SNMPv3 while time runs sixty times as fast,
// restarts the card, and has the bench count what became of informs. No password
// shows anywhere, and the journal replays.
func TestServedCardSpeaksV3(t *testing.T) {
	var journal, trace bytes.Buffer
	good, stop := sink(t)
	defer stop()
	bad := silent(t)
	c := serveText(t, sealed, sim.ServeOptions{Speed: 60, Journal: &journal, Trace: &trace, Receivers: map[netip.AddrPort]string{
		netip.MustParseAddrPort("198.51.100.20:162"): good.LocalAddr().String(),
		netip.MustParseAddrPort("198.51.100.21:162"): bad.LocalAddr().String(),
	}})
	if len(c.ready.Users) != 1 || c.ready.Users[0] != "watch" {
		t.Errorf("users %q", c.ready.Users)
	}
	g := c.snmp3()
	source := func() int {
		p, err := g.Get([]string{outputSource})
		if err != nil {
			t.Fatal(err)
		}
		return int(gosnmp.ToBigInt(p.Variables[0].Value).Int64())
	}
	if source() != 3 {
		t.Error("not on mains")
	}
	c.send(`source = { sag_pct = 0, lasts = "30s" }`)
	c.until(outputSource, 5)
	c.until(outputSource, 3)
	for seen := 0; seen < 3; { // 180 s of its own clock, and more than the window
		if c.number(".1.3.6.1.2.1.1.3.0") > int64(seen+1)*6000 {
			source()
			seen++
		}
	}
	c.send(`card = "restart"`)
	for c.bootsOver(g) < 2 {
	}
	if source() != 3 {
		t.Error("not on mains after the restart")
	}
	if result := c.end(); len(result.Failed()) > 0 {
		t.Errorf("missed %q", result.Failed())
	}
	for name, text := range map[string]string{"journal": journal.String(), "trace": trace.String()} {
		if text == "" || strings.Contains(text, "passphrase") {
			t.Errorf("the %s holds a password, or nothing", name)
		}
	}
	path := filepath.Join(t.TempDir(), "session.journal")
	if err := os.WriteFile(path, journal.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := sim.Replay(path, sim.ReplayOptions{}); err != nil {
		t.Error(err)
	}
}

// bootsOver asks for snmpEngineBoots until there is an answer.
func (c *card) bootsOver(g *gosnmp.GoSNMP) int64 {
	c.t.Helper()
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); {
		g.Timeout = 300 * time.Millisecond
		p, err := g.Get([]string{".1.3.6.1.6.3.10.2.1.2.0"})
		if err == nil && len(p.Variables) == 1 {
			g.Timeout = 5 * time.Second
			return gosnmp.ToBigInt(p.Variables[0].Value).Int64()
		}
	}
	c.t.Fatal("no answer after the restart")
	return 0
}

// TestVersionsAreSwitchedSeparately asks a card that speaks one version in each of
// the three: one answers, the others are silent and counted.
func TestVersionsAreSwitchedSeparately(t *testing.T) {
	versions := []gosnmp.SnmpVersion{gosnmp.Version1, gosnmp.Version2c, gosnmp.Version3}
	for on, name := range []string{"v1", "v2c", "v3"} {
		t.Run(name, func(t *testing.T) {
			head, _, _ := strings.Cut(sealed, "receivers")
			_, users, _ := strings.Cut(sealed, "]\n[[card")
			text := strings.Replace(head+"[[card"+users, `["v2c", "v3"]`, `["`+name+`"]`, 1)
			text, _, _ = strings.Cut(text, "[[expect]]")
			c := serveText(t, text, sim.ServeOptions{})
			var speaking *gosnmp.GoSNMP
			for i, version := range versions {
				g := c.snmp3()
				g.Version, g.Community = version, "look"
				if i == on {
					speaking = g
				} else {
					g.Timeout, g.Retries = 100*time.Millisecond, 0
				}
				p, err := g.Get([]string{sysDescr})
				if (err == nil) != (i == on) {
					t.Errorf("asked in version %d: %v, %v", i+1, p, err)
				}
			}
			p, err := speaking.Get([]string{".1.3.6.1.2.1.11.3.0"}) // snmpInBadVersions
			if err != nil || gosnmp.ToBigInt(p.Variables[0].Value).Int64() < 2 {
				t.Errorf("%v, %+v", err, p)
			}
			c.end()
		})
	}
}
