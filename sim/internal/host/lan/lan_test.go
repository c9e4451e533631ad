package lan

import (
	"bytes"
	"errors"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/insomniacslk/dhcp/dhcpv4"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var client = Client{Hardware: net.HardwareAddr{2, 0, 0x5e, 0x10, 0, 7}, Name: "ups-card-RT1", First: 0xfffffff0}

func adr(text string) netip.Addr { return netip.MustParseAddr(text) }

// TestMessages: what stands in each message (RFC 2131 table 5), as a decoder reads it.
func TestMessages(t *testing.T) {
	own, server := adr("198.18.0.50"), adr("198.18.0.1")
	for step, want := range map[snap.LeaseStep]struct {
		kind                      dhcpv4.MessageType
		ciaddr, requested, server string
		broadcast                 bool
	}{
		snap.LeaseDiscover: {dhcpv4.MessageTypeDiscover, "0.0.0.0", "<nil>", "<nil>", true},
		snap.LeaseRequest:  {dhcpv4.MessageTypeRequest, "0.0.0.0", "198.18.0.50", "198.18.0.1", true},
		snap.LeaseReboot:   {dhcpv4.MessageTypeRequest, "0.0.0.0", "198.18.0.50", "<nil>", true},
		snap.LeaseRenew:    {dhcpv4.MessageTypeRequest, "198.18.0.50", "<nil>", "<nil>", false},
		snap.LeaseRebind:   {dhcpv4.MessageTypeRequest, "198.18.0.50", "<nil>", "<nil>", false},
		snap.LeaseDecline:  {dhcpv4.MessageTypeDecline, "0.0.0.0", "198.18.0.50", "198.18.0.1", true},
	} {
		q := snap.LeaseQuery{Step: step, Round: 0x11, Waited: 90 * vtime.Second}
		if step != snap.LeaseDiscover {
			q.Address = own
		}
		if step == snap.LeaseRequest || step == snap.LeaseRenew || step == snap.LeaseDecline {
			q.Server = server
		}
		m, err := client.message(q)
		if err != nil {
			t.Fatal(err)
		}
		got, err := dhcpv4.FromBytes(m.ToBytes())
		if err != nil {
			t.Fatalf("%s: %v", step, err)
		}
		if got.MessageType() != want.kind || got.ClientIPAddr.String() != want.ciaddr || got.RequestedIPAddress().String() != want.requested ||
			got.ServerIdentifier().String() != want.server || got.IsBroadcast() != want.broadcast {
			t.Errorf("%s: %s", step, got.Summary())
		}
		if got.TransactionID != (dhcpv4.TransactionID{0, 0, 0, 1}) || got.NumSeconds != 90 || got.ClientHWAddr.String() != client.Hardware.String() {
			t.Errorf("%s: %s", step, got.Summary())
		}
		if names := got.ClassIdentifier() == vendor && got.HostName() == client.Name; names == (step == snap.LeaseDecline) {
			t.Errorf("%s: class %q, name %q", step, got.ClassIdentifier(), got.HostName())
		}
	}
}

// answer is what a server says to the card in round 0x11.
func answer(t testing.TB, kind dhcpv4.MessageType, mods ...dhcpv4.Modifier) []byte {
	t.Helper()
	mods = append([]dhcpv4.Modifier{
		dhcpv4.WithTransactionID(dhcpv4.TransactionID{0, 0, 0, 1}), dhcpv4.WithHwAddr(client.Hardware), dhcpv4.WithMessageType(kind),
		dhcpv4.WithYourIP(net.IPv4(198, 18, 0, 50)), dhcpv4.WithOption(dhcpv4.OptServerIdentifier(net.IPv4(198, 18, 0, 1))),
		dhcpv4.WithNetmask(net.CIDRMask(24, 32)), dhcpv4.WithLeaseTime(3600),
		func(m *dhcpv4.DHCPv4) { m.OpCode = dhcpv4.OpcodeBootReply },
	}, mods...)
	m, err := dhcpv4.New(mods...)
	if err != nil {
		t.Fatal(err)
	}
	return m.ToBytes()
}

// TestReplies: what the card is told of an answer, and what is no answer to it.
func TestReplies(t *testing.T) {
	whole := snap.LeaseReply{
		Kind: snap.LeaseAck, Round: 0x11, Server: adr("198.18.0.1"), Address: netip.MustParsePrefix("198.18.0.50/24"), Lasts: vtime.Hour,
	}
	with := func(change func(*snap.LeaseReply)) snap.LeaseReply { r := whole; change(&r); return r }
	ack := dhcpv4.MessageTypeAck
	for name, c := range map[string]struct {
		text []byte
		want snap.LeaseReply
	}{
		"an acknowledgement": {answer(t, ack), whole},
		"an offer":           {answer(t, dhcpv4.MessageTypeOffer), with(func(r *snap.LeaseReply) { r.Kind = snap.LeaseOffer })},
		"a refusal":          {answer(t, dhcpv4.MessageTypeNak), snap.LeaseReply{Kind: snap.LeaseNak, Round: 0x11, Server: adr("198.18.0.1")}},
		"gateway and name servers": {
			answer(t, ack, dhcpv4.WithOption(dhcpv4.OptRouter(net.IPv4(198, 18, 0, 2), net.IPv4(198, 18, 0, 3))),
				dhcpv4.WithOption(dhcpv4.OptDNS(net.IPv4(198, 18, 0, 4), net.IPv4(198, 18, 0, 5), net.IPv4(198, 18, 0, 6)))),
			with(func(r *snap.LeaseReply) {
				r.Gateway, r.DNS = adr("198.18.0.2"), [2]netip.Addr{adr("198.18.0.4"), adr("198.18.0.5")}
			}),
		},
		"times of its own": {
			answer(t, ack, dhcpv4.WithOption(dhcpv4.OptRenewTimeValue(time.Minute)), dhcpv4.WithOption(dhcpv4.OptRebindingTimeValue(2*time.Minute))),
			with(func(r *snap.LeaseReply) { r.Renew, r.Rebind = vtime.Minute, 2*vtime.Minute }),
		},
		"for ever":               {answer(t, ack, dhcpv4.WithLeaseTime(0xffffffff)), with(func(r *snap.LeaseReply) { r.Lasts = 0 })},
		"no time":                {answer(t, ack, dhcpv4.WithoutOption(dhcpv4.OptionIPAddressLeaseTime)), with(func(r *snap.LeaseReply) { r.Lasts = -1 })},
		"no mask: by its class":  {answer(t, ack, dhcpv4.WithoutOption(dhcpv4.OptionSubnetMask)), whole},
		"a mask with holes":      {answer(t, ack, dhcpv4.WithNetmask(net.IPv4Mask(255, 0, 255, 0))), with(func(r *snap.LeaseReply) { r.Address = netip.Prefix{} })},
		"no server":              {answer(t, ack, dhcpv4.WithoutOption(dhcpv4.OptionServerIdentifier)), with(func(r *snap.LeaseReply) { r.Server = netip.Addr{} })},
		"another machine's":      {answer(t, ack, dhcpv4.WithHwAddr(net.HardwareAddr{2, 0, 0, 0, 0, 1})), snap.LeaseReply{}},
		"of before the session":  {answer(t, ack, dhcpv4.WithTransactionID(dhcpv4.TransactionID{0xff, 0xff, 0xff, 0xef})), snap.LeaseReply{}},
		"a request":              {answer(t, ack, func(m *dhcpv4.DHCPv4) { m.OpCode = dhcpv4.OpcodeBootRequest }), snap.LeaseReply{}},
		"a kind that nobody has": {answer(t, dhcpv4.MessageType(99)), snap.LeaseReply{}},
		"no message":             {[]byte("no message"), snap.LeaseReply{}},
	} {
		got, ok := client.reply(c.text)
		if ok != (c.want.Kind != "") {
			t.Errorf("%s: %v, %+v", name, ok, got)
		} else if diff := cmp.Diff(c.want, got, cmpopts.EquateComparable(netip.Addr{}, netip.Prefix{})); ok && diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	r := with(func(r *snap.LeaseReply) { r.Address = netip.Prefix{} })
	if r.Wrong() == "" || whole.Wrong() != "" {
		t.Errorf("%q, %q", r.Wrong(), whole.Wrong())
	}
}

// FuzzReply: whatever comes off the wire, it is no answer, or one of which the card can
// tell whether it makes sense.
func FuzzReply(f *testing.F) {
	f.Add(answer(f, dhcpv4.MessageTypeOffer))
	f.Add(answer(f, dhcpv4.MessageTypeAck, dhcpv4.WithOption(dhcpv4.OptRouter(net.IPv4(198, 18, 0, 2))), dhcpv4.WithOption(dhcpv4.OptDNS(net.IPv4(198, 18, 0, 4)))))
	f.Add(answer(f, dhcpv4.MessageTypeNak))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, ok := client.reply(text)
		if !ok {
			return
		}
		if r.Round < 0 || r.Kind == "" {
			t.Errorf("%+v", r)
		}
		if r.Kind != snap.LeaseNak && r.Wrong() == "" {
			renew, rebind := r.Times()
			if !r.Address.Addr().Is4() || r.Lasts > 0 && !(0 <= renew && renew <= rebind && rebind <= r.Lasts) {
				t.Errorf("%+v: %v, %v", r, renew, rebind)
			}
		}
	})
}

// cable is a wire that a test holds the other end of.
type cable struct {
	mu    sync.Mutex
	sent  []string
	has   map[netip.Prefix]time.Duration
	in    chan []byte
	fails error
}

func (c *cable) broadcast(text []byte, from, to netip.Addr) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	m, err := dhcpv4.FromBytes(text)
	if err != nil {
		return err
	}
	c.sent = append(c.sent, m.MessageType().String()+" "+from.String()+" > "+to.String())
	return c.fails
}

func (c *cable) receive(b []byte) (int, error) {
	text, open := <-c.in
	if !open {
		return 0, net.ErrClosed
	}
	return copy(b, text), nil
}

func (c *cable) give(p netip.Prefix, lasts time.Duration) (bool, error) {
	if c.fails != nil {
		return false, c.fails
	}
	if old, had := c.has[p]; had && old == 0 {
		return true, nil
	}
	c.has[p] = lasts
	return false, nil
}

func (c *cable) take(p netip.Prefix) error { delete(c.has, p); return nil }
func (c *cable) close()                    { close(c.in) }

func plugged(c *cable, hear func(snap.LeaseReply), log func(string)) *Port {
	c.has, c.in = map[netip.Prefix]time.Duration{}, make(chan []byte)
	p := &Port{client: client, hear: hear, log: log, wire: c, out: make(chan snap.LeaseQuery, waiting), done: make(chan struct{}), held: map[netip.Prefix]string{}}
	p.work.Go(p.read)
	p.work.Go(p.write)
	return p
}

// TestPort: what is asked goes out to everybody, or from the card's own address; what
// comes in is heard. Renewal falls back to the wire where the system does not have the
// address.
func TestPort(t *testing.T) {
	heard := make(chan snap.LeaseReply, 1)
	c := &cable{}
	p := plugged(c, func(r snap.LeaseReply) { heard <- r }, func(s string) { t.Error(s) })
	own, server := adr("198.18.0.50"), adr("198.18.0.1")
	for _, step := range []snap.LeaseStep{snap.LeaseDiscover, snap.LeaseRenew, snap.LeaseRebind} {
		if err := p.send(snap.LeaseQuery{Step: step, Address: own, Server: server}); err != nil {
			t.Fatal(err)
		}
	}
	c.in <- []byte("noise")
	c.in <- answer(t, dhcpv4.MessageTypeAck)
	if r := <-heard; r.Kind != snap.LeaseAck {
		t.Errorf("%+v", r)
	}
	p.Close()
	want := []string{"DISCOVER invalid IP > 255.255.255.255", "REQUEST 198.18.0.50 > 198.18.0.1", "REQUEST 198.18.0.50 > 255.255.255.255"}
	if !slices.Equal(c.sent, want) {
		t.Errorf("%q", c.sent)
	}
}

// TestPortFails: a failure is told once, and again after it was over.
func TestPortFails(t *testing.T) {
	var log bytes.Buffer
	c := &cable{fails: errors.New("the wire is cut")}
	p := plugged(c, nil, func(s string) { log.WriteString(s + "\n") })
	for range 3 {
		p.tell(p.send(snap.LeaseQuery{Step: snap.LeaseDiscover}))
	}
	p.tell(nil)
	p.tell(c.fails)
	p.Close()
	if n := strings.Count(log.String(), "network port: the wire is cut\n"); n != 2 {
		t.Errorf("told %d times: %s", n, log.String())
	}
}

// TestHold: the interface has the card's addresses for as long as the card; what it had
// before stays.
func TestHold(t *testing.T) {
	c := &cable{}
	p := plugged(c, nil, func(s string) { t.Error(s) })
	theirs, first, second := netip.MustParsePrefix("198.18.0.2/24"), netip.MustParsePrefix("198.18.0.50/24"), netip.MustParsePrefix("198.18.0.51/24")
	c.has[theirs] = 0
	hold := func(want map[netip.Prefix]time.Duration, list ...Address) {
		t.Helper()
		if err := p.Hold(list); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, c.has, cmpopts.EquateComparable(netip.Prefix{})); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
	}
	hold(map[netip.Prefix]time.Duration{theirs: 0, first: time.Hour}, Address{Prefix: theirs}, Address{first, "1", time.Hour})
	hold(map[netip.Prefix]time.Duration{theirs: 0, first: time.Hour}, Address{first, "1", time.Minute}) // told the same again
	hold(map[netip.Prefix]time.Duration{theirs: 0, first: time.Minute}, Address{first, "2", time.Minute})
	hold(map[netip.Prefix]time.Duration{theirs: 0, second: 0}, Address{Prefix: second})
	c.fails = errors.New("no room")
	if err := p.Hold([]Address{{Prefix: first}}); err == nil {
		t.Error("a failure is not told")
	}
	c.fails = nil
	hold(map[netip.Prefix]time.Duration{theirs: 0, first: 0}, Address{Prefix: first})
	p.Close()
	if len(c.has) != 1 {
		t.Errorf("left behind: %v", c.has)
	}
}
