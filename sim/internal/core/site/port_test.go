package site_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ported is a site whose monitor asks for 40 objects, ten at a time.
const ported = managed + `on_low_battery = true
[monitor]
poll_every = "10s"
objects = 40
per_request = 10
retries = 0
[card.settings]
"reach.link-mode" = "MODE"
"reach.vlan" = "VLAN"
`

func port(mode, vlan, network string) string {
	return strings.NewReplacer("MODE", mode, "VLAN", vlan).Replace(ported) + "[network]\n" + network + "\n"
}

// TestDuplexMismatch: a card that is fixed to full duplex makes a port that negotiates
// come to half (IEEE 802.3 clause 28.2.3.1). Single requests pass, many at once do not,
// and what each end sees of it is in the counters of the card's port.
func TestDuplexMismatch(t *testing.T) {
	for name, c := range map[string]struct {
		mode, port   string
		mbit         int
		half, differ bool
	}{
		"both negotiate": {"auto", "auto", 100, false, false}, "fixed full": {"100-full", "auto", 100, false, true},
		"fixed half": {"10-half", "auto", 10, true, false}, "the port is fixed": {"auto", "100-full", 100, true, true},
		"both fixed": {"100-full", "100-full", 100, false, false},
	} {
		r := playtest.Start(t, port(c.mode, "none", "port_mode = \""+c.port+"\"")).To(20 * min)
		p, m := r.Site.Card.PortNow(), r.Site.Monitor
		if p.Mbit != c.mbit || p.Half != c.half || r.Site.Net.Duplex != c.differ || r.Site.Card.LinkDown {
			t.Errorf("%s: %+v, differ %v", name, p, r.Site.Net.Duplex)
		}
		if (m.Unanswered > 10) != c.differ || (r.Site.Net.Lost > 0) != c.differ || (p.InErrors > 0) != c.differ || (p.LateCollisions > 0) != (c.differ && c.half) || p.LateCollisions != p.OutErrors {
			t.Errorf("%s: %+v, lost %d, %+v", name, m, r.Site.Net.Lost, p)
		}
	}
	one := strings.Replace(port("100-full", "none", ""), "objects = 40", "objects = 10", 1)
	if r := playtest.Start(t, one).To(20 * min); r.Site.Monitor.Unanswered != 0 || !r.Site.Net.Duplex {
		t.Errorf("one request in 10 s: %+v", r.Site.Monitor)
	}
}

// TestMismatchIsMended: at the switch at once, on the card after its restart; the
// counters begin anew with that.
func TestMismatchIsMended(t *testing.T) {
	r := playtest.Start(t, port("100-full", "none", "")).To(10 * min)
	bad := r.Site.Card.PortNow().InErrors
	r.Inject(`settings = { "reach.link-mode" = "auto" }`).To(11 * min)
	if !r.Site.Net.Duplex || bad == 0 {
		t.Fatalf("in force before the restart, or no errors: %d", bad)
	}
	r.Ask(snap.OpRestart).To(20 * min)
	if p := r.Site.Card.PortNow(); r.Site.Net.Duplex || p.InErrors != 0 || p.Mode != snap.LinkAuto || r.Count("link: 100 Mbit/s, the card full duplex, the switch full duplex") != 1 {
		t.Errorf("%+v\n%s", p, r.Trace())
	}
	r = playtest.Start(t, port("100-full", "none", "")).To(10 * min).Inject(`network = { port_mode = "100-full" }`).To(11 * min)
	lost := r.Site.Net.Lost
	if r.To(20 * min); r.Site.Net.Duplex || r.Site.Net.Lost != lost || r.Site.Card.PortNow().InErrors == 0 {
		t.Errorf("mended at the switch: %+v, %d more lost", r.Site.Card.PortNow(), r.Site.Net.Lost-lost)
	}
}

// TestSpeedsDiffer: two ends that are fixed to different speeds have no link.
func TestSpeedsDiffer(t *testing.T) {
	r := playtest.Start(t, port("10-full", "none", "port_mode = \"100-full\"")).To(5 * min)
	if c := r.Site.Card; !c.LinkDown || c.PortNow().Mbit != 0 || c.Address.State != "no-link" || r.Site.Monitor.Answered != 0 {
		t.Errorf("%+v", c)
	}
	r.Inject(`network = { port_mode = "auto" }`).To(10 * min)
	if c := r.Site.Card; c.LinkDown || c.PortNow().Mbit != 10 || r.Site.Monitor.Answered == 0 {
		t.Errorf("%+v, %+v", c.PortNow(), r.Site.Monitor)
	}
	r.Inject(`link = "down"`).Inject(`network = { port_mode = "10-half" }`).To(11 * min)
	if !r.Site.Card.LinkDown {
		t.Error("a link without a lead")
	}
}

// TestOtherVLAN: a port that carries another VLAN than the card has a link, and nothing
// passes: neither a lease nor a poll. Both ends say so where one looks.
func TestOtherVLAN(t *testing.T) {
	src := strings.Replace(port("auto", "20", ""), "address =", "name = \"x\" #", 1)
	r := playtest.Start(t, src+"[[peer]]\nname = \"near\"\naddress = \"192.0.2.30/24\"\n").To(5 * min)
	if c := r.Site.Card; c.LinkDown || c.Address.Reachable() || c.Address.State != "searching" || r.Site.Net.Peers[0].Fault != snap.PathOtherVLAN || r.Site.Monitor.Answered != 0 {
		t.Errorf("%+v, %v", c.Address, r.Site.Net.Peers)
	}
	if text := r.Do(snap.Command{Op: snap.OpPing, Text: "192.0.2.1", By: technicianHere}).Reason; !strings.Contains(text, "VLAN") {
		t.Errorf("ping: %q", text)
	}
	r.Inject(`network = { port_vlan = 20 }`).To(10 * min)
	if c := r.Site.Card; c.Address.State != "leased" || r.Site.Net.Peers[0].Fault != snap.PathOpen || r.Site.Monitor.Answered == 0 || c.PortNow().VLAN != 20 {
		t.Errorf("%+v, %v", c.Address, r.Site.Net.Peers)
	}
	r.Inject(`network = { port_vlan = 0 }`).To(11 * min)
	if answered := r.Site.Monitor.Answered; r.To(15*min).Site.Monitor.Answered != answered || r.Site.Card.Address.State != "leased" {
		t.Errorf("%+v, %+v", r.Site.Monitor, r.Site.Card.Address)
	}
}

var technicianHere = snap.Actor{Surface: "serial", Role: snap.Administrator}

// TestPingOverALossyLink: five echo requests, of which some come back.
func TestPingOverALossyLink(t *testing.T) {
	ping := func(network string) string {
		r := playtest.Start(t, port("auto", "none", network)).To(min)
		return r.Do(snap.Command{Op: snap.OpPing, Text: "192.0.2.1", By: technicianHere}).Reason
	}
	for network, want := range map[string]string{
		"": "192.0.2.1: answers", "loss_pct = 100": "no answer", "loss_pct = 30": "packets get lost", "burst_loss_pct = 100": "192.0.2.1: answers",
	} {
		if got := ping(network); !strings.Contains(got, want) || strings.HasSuffix(want, "answers") && got != want {
			t.Errorf("%s: %q, want %q", network, got, want)
		}
	}
}

// TestLostOutside: what surfaces tell is counted as what is modelled; a journal may hold
// anything.
func TestLostOutside(t *testing.T) {
	r := playtest.Start(t, port("auto", "none", "port_mode = \"100-full\"")).To(vtime.Second)
	tell := func(way string, n int) snap.Status {
		return r.Do(snap.Command{Op: snap.OpLost, Text: way, Code: n, By: snap.Actor{Surface: "link"}}).Status
	}
	for _, way := range []string{"in", "out", "burst-in", "burst-out"} {
		if got := tell(way, 10); got != snap.Done {
			t.Errorf("%s: %v", way, got)
		}
	}
	if p := r.Site.Card.PortNow(); r.Site.Net.Lost != 40 || p.InErrors != 20 || p.LateCollisions < 10 || p.OutErrors != p.LateCollisions {
		t.Errorf("%d lost, %+v", r.Site.Net.Lost, p)
	}
	for _, bad := range []struct {
		way string
		n   int
	}{{"", 1}, {"across", 1}, {"in", 0}, {"in", -1}, {"in", 1 << 40}} {
		if got := tell(bad.way, bad.n); got != snap.WrongValue {
			t.Errorf("%+v: %v", bad, got)
		}
	}
}
