package fleet

import (
	"context"
	"errors"
	"net"
	"net/netip"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gosnmp/gosnmp"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

func TestMain(m *testing.M) { checks.Main(m) }

// run runs every shard until stop is called.
func run(t *testing.T, f *Fleet) (stop func()) {
	t.Helper()
	f.clock.Start()
	return serve(t, f)
}

// serve is run but for the clock.
func serve(t *testing.T, f *Fleet) (stop func()) {
	t.Helper()
	checks.EndsWithin(t, 2*time.Minute)
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	for i := range f.Shards() {
		all.Go(func() {
			if err := f.RunShard(ctx, i); err != nil {
				t.Error(err)
			}
		})
	}
	return sync.OnceFunc(func() { cancel(); all.Wait() })
}

func client(t *testing.T) *net.UDPConn {
	t.Helper()
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	conn.SetReadDeadline(time.Now().Add(20 * time.Second))
	return conn
}

func getRequest(t *testing.T, id uint32) []byte {
	t.Helper()
	p := &gosnmp.SnmpPacket{
		Version: gosnmp.Version2c, Community: "watch", PDUType: gosnmp.GetRequest, RequestID: id,
		Variables: []gosnmp.SnmpPDU{{Name: ".1.3.6.1.2.1.1.5.0", Type: gosnmp.Null}},
	}
	b, err := p.MarshalMsg()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// receive is the next datagram at conn as SNMP, and where it came from.
func receive(t *testing.T, conn *net.UDPConn) (*gosnmp.SnmpPacket, netip.AddrPort) {
	t.Helper()
	b := make([]byte, 4096)
	n, from, err := conn.ReadFromUDPAddrPort(b)
	if err != nil {
		t.Fatal(err)
	}
	p, err := (&gosnmp.GoSNMP{Version: gosnmp.Version2c, Logger: gosnmp.Logger{}}).SnmpDecodePacket(b[:n])
	if err != nil {
		t.Fatal(err)
	}
	return p, from
}

// What quirks ask for happens to replies of a fleet too: late, twice, from
// elsewhere, out of order.
func TestQuirksOfDelivery(t *testing.T) {
	for quirk, check := range map[string]func(*testing.T, *net.UDPConn, netip.AddrPort){
		"name = \"duplicated\"\npercent = 100.0": func(t *testing.T, conn *net.UDPConn, at netip.AddrPort) {
			conn.WriteToUDPAddrPort(getRequest(t, 1), at)
			receive(t, conn)
			if p, from := receive(t, conn); p.RequestID != 1 || from != at {
				t.Errorf("the second reply has id %d from %v", p.RequestID, from)
			}
		},
		"name = \"wrong-source\"\npercent = 100.0": func(t *testing.T, conn *net.UDPConn, at netip.AddrPort) {
			conn.WriteToUDPAddrPort(getRequest(t, 1), at)
			if _, from := receive(t, conn); from.Addr() != at.Addr() || from.Port() == at.Port() {
				t.Errorf("the reply came from %v, asked was %v", from, at)
			}
		},
		"name = \"reordered\"\npercent = 100.0\ndelay = \"10s\"": func(t *testing.T, conn *net.UDPConn, at netip.AddrPort) {
			conn.WriteToUDPAddrPort(getRequest(t, 1), at)
			conn.WriteToUDPAddrPort(getRequest(t, 2), at)
			first, _ := receive(t, conn)
			second, _ := receive(t, conn)
			if first.RequestID != 2 || second.RequestID != 1 {
				t.Errorf("replies to %d, %d", first.RequestID, second.RequestID)
			}
		},
		"name = \"slow-objects\"\ndelay = \"50ms\"": func(t *testing.T, conn *net.UDPConn, at netip.AddrPort) {
			start := time.Now()
			conn.WriteToUDPAddrPort(getRequest(t, 1), at)
			receive(t, conn)
			if took := time.Since(start); took < 50*time.Millisecond {
				t.Errorf("the reply took %v", took)
			}
		},
	} {
		name, _, _ := strings.Cut(quirk, "\n")
		t.Run(name, func(t *testing.T) {
			f := open(t, config(t, small+"[[card.quirk]]\n"+quirk+"\n", 3))
			defer run(t, f)()
			check(t, client(t), f.Address(2))
		})
	}
}

const informing = `
title = "informs"
run_for = "24h"
[fleet]
count = 2
[card]
read_community = "watch"
receivers = [{ to = "198.51.100.20:162", community = "tell", inform = true, retries = 1, timeout = "10ms" }]
`

var receiver = netip.MustParseAddrPort("198.51.100.20:162")

// An inform is repeated unchanged and then given up; one that is acknowledged is
// not repeated. Each comes from the device's own address.
func TestInforms(t *testing.T) {
	conn := client(t)
	c := config(t, strings.Replace(informing, `"10ms"`, `"500ms"`, 1), 2)
	c.Receivers[receiver] = conn.LocalAddr().(*net.UDPAddr).AddrPort()
	f := open(t, c)
	stop := run(t, f)
	defer stop()
	heard := map[netip.AddrPort][]uint32{}
	for range 4 { // of one device both attempts are ignored, of the other the first
		p, from := receive(t, conn)
		heard[from] = append(heard[from], p.RequestID)
		if from == f.Address(2) && len(heard[from]) == 2 {
			p.PDUType = gosnmp.GetResponse
			b, _ := p.MarshalMsg()
			conn.WriteToUDPAddrPort(b, from)
		}
	}
	for _, at := range []netip.AddrPort{f.Address(1), f.Address(2)} {
		if ids := heard[at]; len(ids) != 2 || ids[0] != ids[1] {
			t.Errorf("from %v came informs %v", at, ids)
		}
	}
	for deadline := time.Now().Add(20 * time.Second); ; {
		s := f.Sum()
		if s.Acked[snap.NotifyColdStart] == 1 && s.Unacked[snap.NotifyColdStart] == 1 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("%+v", s)
		}
	}
	if one := f.Site(1); one.Unacked[snap.NotifyColdStart] != 1 || one.Acked[snap.NotifyColdStart] != 0 {
		t.Errorf("device 1: acknowledged %v, given up %v", one.Acked, one.Unacked)
	}
}

// Informs to a receiver that is silent are bounded, and the newest are kept. What its
// rule leaves out is not among them.
func TestInformsAreBounded(t *testing.T) {
	c := config(t, strings.Replace(informing, `"10ms"`, `"1m", classes = "security, card"`, 1), 1)
	c.Receivers[receiver] = client(t).LocalAddr().(*net.UDPAddr).AddrPort()
	f := open(t, c)
	u := f.unit(1)
	for range queued + 10 {
		u.shard.notify(u, snap.Notification{Kind: snap.NotifyColdStart})
	}
	u.shard.notify(u, snap.Notification{Kind: snap.NotifyAuthFailure})
	u.shard.notify(u, snap.Notification{Kind: snap.NotifyLinkDown})
	q := u.posts[0].queue
	if len(q) != queued || q[len(q)-1].Kind != snap.NotifyAuthFailure {
		t.Errorf("%d wait", len(q))
	}
}

// A port that is taken is told with its address, and nothing is left open: the
// next attempt finds the other ports free.
func TestTakenPort(t *testing.T) {
	first := netip.MustParseAddr(checks.Loopback())
	third := first.Next().Next()
	taken, err := net.ListenUDP("udp4", net.UDPAddrFromAddrPort(netip.AddrPortFrom(third, 0)))
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	c := config(t, small, 5)
	c.First = netip.AddrPortFrom(first, taken.LocalAddr().(*net.UDPAddr).AddrPort().Port())
	for range 2 {
		var bind *BindError
		if _, err := Open(c); !errors.As(err, &bind) || bind.Address.Addr() != third {
			t.Fatalf("got %v", err)
		}
	}
	taken.Close()
	open(t, c)
}

// A port that is picked is free at every address: where it is not, another is tried.
func TestPortIsFreeEverywhere(t *testing.T) {
	first := netip.MustParseAddr(checks.Loopback())
	for range 1500 { // some 5 % of what the system hands out, at the address of the third device
		taken, err := net.ListenUDP("udp4", net.UDPAddrFromAddrPort(netip.AddrPortFrom(first.Next().Next(), 0)))
		if err != nil {
			t.Fatal(err)
		}
		defer taken.Close()
	}
	for range 30 { // without the other tries one of them fails four times in five
		c := config(t, small, 5)
		c.First = netip.AddrPortFrom(first, 0)
		f, err := Open(c)
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
}

func TestAddresses(t *testing.T) {
	at := netip.MustParseAddrPort
	for _, c := range []struct {
		first   string
		ports   bool
		count   int
		exposed bool
		want    string // of the last device; or what is wrong
	}{
		{"127.0.0.1:161", false, 300, false, "127.0.1.44:161"},
		{"127.0.0.1:161", true, 300, false, "127.0.0.1:460"},
		{"127.255.255.254:161", false, 1, false, "127.255.255.254:161"},
		{"127.255.255.254:161", false, 2, false, "there are no 2 addresses"},
		{"127.0.0.1:65000", true, 536, false, "127.0.0.1:65535"},
		{"127.0.0.1:65000", true, 537, false, "there are no 537 ports"},
		{"127.0.0.1:0", true, 50_000, false, "127.0.0.1:0"},
		{"[::1]:161", false, 1, false, "addresses of IPv4"},
		{"192.0.2.1:161", false, 2, true, "192.0.2.2:161"},
		{"255.255.255.255:161", false, 2, true, "there are no 2 addresses"},
	} {
		cfg := Config{First: at(c.first), Ports: c.ports, Groups: []Group{{Count: c.count}}}
		got := cfg.Check(c.exposed)
		if got == "" {
			got = cfg.address(c.count-1, cfg.First.Port()).String()
		}
		if !strings.Contains(got, c.want) {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

// Nobody waits for a shard that has ended, and a full inbox refuses.
func TestAskingIsBounded(t *testing.T) {
	f := open(t, config(t, small, 2))
	s := f.shards[0]
	for range waiting {
		s.inbox = append(s.inbox, func() {})
	}
	if r := f.Submit(1, snap.Command{Op: snap.OpRestart}); r.Status != snap.Busy {
		t.Errorf("a full inbox: %+v", r)
	}
	run(t, f)()
	if r := f.Submit(1, snap.Command{Op: snap.OpRestart}); r.Status != snap.Gone {
		t.Errorf("an ended shard: %+v", r)
	}
	if f.Site(1) != nil || f.SubmitAll(snap.Command{}).Status != snap.Gone {
		t.Error("an ended shard answers")
	}
}
