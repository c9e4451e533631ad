package fleet

import (
	"net"
	"strings"
	"testing"
	"time"

	"ridethrough/sim/internal/core/snap"
)

// TestLossyDevices: of a device whose link loses everything nobody hears, and its engine
// comes to know of all that was lost; its neighbour is not touched.
func TestLossyDevices(t *testing.T) {
	f := open(t, config(t, small, 2))
	stop := run(t, f)
	defer stop()
	inject := func(entry string) {
		t.Helper()
		if r := f.Submit(1, snap.Command{Op: snap.OpInject, Text: entry}); r.Status != snap.Done {
			t.Fatal(r.Reason)
		}
	}
	inject("network = { loss_pct = 100 }")
	conn := client(t)
	for id := range uint32(5) {
		conn.WriteToUDPAddrPort(getRequest(t, id), f.Address(1))
	}
	conn.WriteToUDPAddrPort(getRequest(t, 77), f.Address(2))
	if p, from := receive(t, conn); p.RequestID != 77 || from != f.Address(2) {
		t.Errorf("a reply to %d from %v", p.RequestID, from)
	}
	for deadline := time.Now().Add(20 * time.Second); f.Site(1).Net.Lost < 5; {
		if time.Now().After(deadline) {
			t.Fatalf("%d counted", f.Site(1).Net.Lost)
		}
	}
	if one, two := f.Site(1), f.Site(2); one.Card.PortNow().InErrors != 5 || two.Net.Lost != 0 {
		t.Errorf("%+v, of the neighbour %d", one.Card.PortNow(), two.Net.Lost)
	}
	inject(`network = { loss_pct = 0, delay = "20ms" }`)
	begin := time.Now()
	conn.WriteToUDPAddrPort(getRequest(t, 78), f.Address(1))
	if p, _ := receive(t, conn); p.RequestID != 78 || time.Since(begin) < 40*time.Millisecond {
		t.Errorf("a reply to %d after %v", p.RequestID, time.Since(begin))
	}
}

// TestLostTraps: a notification of which the engine says that it is lost does not leave;
// an inform does the second time.
func TestLostTraps(t *testing.T) {
	for name, text := range map[string]string{"trap": strings.Replace(informing, "inform = true, ", "", 1), "inform": informing} {
		conn := client(t)
		c := config(t, text, 1)
		c.Receivers[receiver] = conn.LocalAddr().(*net.UDPAddr).AddrPort()
		f := open(t, c)
		u := f.unit(1)
		u.shard.early = nil
		u.shard.notify(u, snap.Notification{Kind: snap.NotifyLinkUp, Astray: 1})
		if name == "trap" {
			u.shard.notify(u, snap.Notification{Kind: snap.NotifyAuthFailure})
			p, _ := receive(t, conn)
			if oid := p.Variables[1].Value; oid != "."+snap.NotifyAuthFailure.OID() {
				t.Errorf("the first that arrives is %v", oid)
			}
			continue
		}
		if first := u.posts[0].queue[0]; !first.lost || u.posts[0].tries != 0 {
			t.Errorf("%+v", first)
		}
		u.posts[0].expire(u.posts[0].attempt)
		if p, _ := receive(t, conn); p.Variables[1].Value != "."+snap.NotifyLinkUp.OID() {
			t.Errorf("the repetition is %v", p.Variables)
		}
	}
}
