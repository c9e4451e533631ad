package sim_test

import (
	"fmt"
	"net"
	"net/netip"
	"strings"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim"
)

// trapsAt is a receiver on loopback that tells from where each datagram came.
func trapsAt(t *testing.T, address string) (at netip.AddrPort, from func() string) {
	t.Helper()
	conn, err := net.ListenUDP("udp", net.UDPAddrFromAddrPort(netip.MustParseAddrPort(address)))
	if err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { conn.Close() })
	buf := make([]byte, 2048)
	return conn.LocalAddr().(*net.UDPAddr).AddrPort(), func() string {
		conn.SetReadDeadline(time.Now().Add(20 * time.Second))
		_, peer, err := conn.ReadFromUDPAddrPort(buf)
		if err != nil {
			return err.Error()
		}
		return peer.Addr().Unmap().String()
	}
}

// TestTrapsLeaveFromTheCard: at its own addresses what a card sends comes from them, over IPv4
// and IPv6; elsewhere, from whatever address this machine takes.
func TestTrapsLeaveFromTheCard(t *testing.T) {
	for _, row := range []struct {
		to, listen, source string
		real               bool
		want               string
	}{
		{"198.51.100.20:162", "127.0.0.1:0", "auto", false, "127.0.0.1"},
		{"198.51.100.20:162", "127.0.0.1:0", "auto", true, "127.77.1.5"},
		{"198.51.100.20:162", "127.0.0.1:0", "127.77.1.5", true, "127.77.1.5"},
		{"198.51.100.20:162", "127.0.0.1:0", "127.77.1.9", true, "127.77.1.9"}, // the second one
		{"[2001:db8::20]:162", "[::1]:0", "::1", true, "::1"},
		{"[2001:db8::20]:162", "127.0.0.1:0", "auto", true, "127.77.1.5"}, // mapped to the other family
	} {
		t.Run(fmt.Sprint(row.to, row.source, row.real), func(t *testing.T) {
			at, from := trapsAt(t, row.listen)
			text := strings.Replace(realSite, "[card]\n", "[card]\nreceivers = [{ to = \""+row.to+"\" }]\n", 1)
			text = strings.Replace(text, "[card.settings]\n", "[card.settings]\n\"reach.second-address\" = \"127.77.1.9\"\n\"alerts.receivers.receiver-1.source\" = \""+row.source+"\"\n", 1)
			o := sim.ServeOptions{Receivers: map[netip.AddrPort]string{netip.MustParseAddrPort(row.to): at.String()}}
			if row.real {
				o.Real, o.SNMP, o.SSH = true, ":0", ":0"
			}
			c := serveText(t, text, o)
			if at := c.ends(); row.real && (!strings.HasPrefix(at.SNMP, "127.77.1.5:") || !answersAt(t, strings.Replace(at.SNMP, "1.5:", "1.9:", 1), "127.0.0.1")) {
				t.Errorf("it is told at %s, and does not answer at both addresses", at.SNMP)
			}
			c.send(`source = { volts = 0, lasts = "2s" }`)
			if got := from(); got != row.want {
				t.Errorf("it comes from %s, want %s", got, row.want)
			}
			c.end()
		})
	}
}

// TestTrapsFollowTheCard: with another address of the card what is bound to the old one does not
// leave, and what is not leaves from the new one.
func TestTrapsFollowTheCard(t *testing.T) {
	free, fromFree := trapsAt(t, "127.0.0.1:0")
	bound, fromBound := trapsAt(t, "127.0.0.1:0")
	text := strings.Replace(realSite, "[card]\n", "[card]\nboot_takes = \"10ms\"\nreceivers = [{ to = \"198.51.100.20:162\" }, { to = \"198.51.100.21:162\" }]\n", 1)
	text = strings.Replace(text, `address = "127.77.1.5/8"`, "", 1) + "[network]\noffer = \"127.77.1.5/8\"\nlease = \"2m\"\n"
	o := ownPorts
	o.Receivers = map[netip.AddrPort]string{
		netip.MustParseAddrPort("198.51.100.20:162"): free.String(), netip.MustParseAddrPort("198.51.100.21:162"): bound.String(),
	}
	trace := new(heard)
	o.Trace = trace
	c := serveText(t, text, o)
	c.send(`settings = { "alerts.receivers.receiver-2.source" = "127.77.1.5" }`)
	c.send(`try = "all"`)
	for name, from := range map[string]func() string{"free": fromFree, "bound": fromBound} {
		if got := from(); got != "127.77.1.5" {
			t.Errorf("%s comes from %s", name, got)
		}
	}
	c.send(`network = { offer = "127.77.1.6/8" }`)
	c.send(`card = "restart"`)
	c.comes(func(e ends) bool { return strings.HasPrefix(e.SNMP, "127.77.1.6:") })
	trace.comes(t, "warm_start, not to receiver-2: no address 127.77.1.5")
	for got := fromFree(); got != "127.77.1.6"; got = fromFree() {
		if got != "127.77.1.5" {
			t.Fatalf("the other comes from %s", got)
		}
	}
	c.end()
}

// TestAgentAddress: a trap of SNMPv1 says that it comes from the address that it is bound to, or
// else from the card's first IPv4 address, also where it comes over IPv6.
func TestAgentAddress(t *testing.T) {
	for _, row := range []struct{ to, source, want string }{
		{"198.51.100.20:162", "auto", "127.77.1.5"}, {"198.51.100.20:162", "127.77.1.9", "127.77.1.9"}, {"[2001:db8::20]:162", "::1", "127.77.1.5"},
	} {
		conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Replace(realSite, "[card]\n", "[card]\nreceivers = [{ to = \""+row.to+"\", version = \"v1\" }]\n", 1)
		text = strings.Replace(text, "[card.settings]\n", "[card.settings]\n\"reach.second-address\" = \"127.77.1.9\"\n\"alerts.receivers.receiver-1.source\" = \""+row.source+"\"\n", 1)
		c := serveText(t, text, sim.ServeOptions{Receivers: map[netip.AddrPort]string{netip.MustParseAddrPort(row.to): conn.LocalAddr().String()}})
		c.send(`source = { volts = 0, lasts = "2s" }`)
		buf := make([]byte, 2048)
		conn.SetReadDeadline(time.Now().Add(20 * time.Second))
		n, err := conn.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		p, err := (&gosnmp.GoSNMP{Version: gosnmp.Version1}).UnmarshalTrap(buf[:n:n], false)
		if err != nil || p.AgentAddress != row.want {
			t.Errorf("%+v: %v, %v", row, p, err)
		}
		c.end()
		conn.Close()
	}
}
