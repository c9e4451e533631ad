package card_test

import (
	"encoding/binary"
	"encoding/json"
	"net/netip"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// bench has a card that asks a real address server, which the test plays.
type bench struct {
	*playtest.Run
	t    testing.TB
	seen int
}

func asking(t testing.TB, more string) *bench {
	t.Helper()
	return remembering(t, more, nil)
}

// remembering is one whose card has that from before.
func remembering(t testing.TB, more string, memory *snap.Memory) *bench {
	t.Helper()
	p, err := scenario.Load("test.toml", []byte(leased+more), scenario.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p.Network.Real, p.Card.Memory = true, memory
	return &bench{Run: playtest.StartPlan(t, p), t: t}
}

// asked is the next message of the card within the time, "" if there is none.
func (b *bench) asked(within vtime.Tick) (q snap.LeaseQuery) {
	for end := b.Engine.Now() + within; ; b.To(b.Engine.Now() + sec/10) {
		for ; b.seen < len(b.Procs); b.seen++ {
			if e := b.Procs[b.seen]; e.Kind == snap.EffectLease {
				b.seen++
				return *e.Lease
			}
		}
		if b.Engine.Now() >= end {
			return q
		}
	}
}

func (b *bench) wants(step snap.LeaseStep, within vtime.Tick) snap.LeaseQuery {
	b.t.Helper()
	q := b.asked(within)
	if q.Step != step {
		b.t.Fatalf("at %s the card sends %+v, want %s\n%s", b.Engine.Now(), q, step, b.Trace())
	}
	return q
}

func (b *bench) says(kind string, q snap.LeaseQuery) {
	b.Do(snap.Command{Op: snap.OpLease, Lease: &snap.LeaseReply{
		Kind: kind, Round: q.Round, Server: netip.MustParseAddr("198.18.0.1"), Address: netip.MustParsePrefix("198.18.0.50/24"),
		Gateway: netip.MustParseAddr("198.18.0.1"), Lasts: vtime.Hour,
	}})
}

func (b *bench) lease() *bench {
	b.t.Helper()
	b.says(snap.LeaseOffer, b.wants(snap.LeaseDiscover, sec))
	q := b.wants(snap.LeaseRequest, sec)
	if q.Address.String() != "198.18.0.50" || q.Server.String() != "198.18.0.1" {
		b.t.Errorf("%+v", q)
	}
	b.says(snap.LeaseAck, q)
	return b
}

func (b *bench) state(want string) {
	b.t.Helper()
	a := b.Site.Card.Address
	got := a.State
	if a.Prefix.IsValid() {
		got += " " + a.Prefix.String()
	}
	if !strings.HasPrefix(got, want) || want == "searching" && got != want {
		b.t.Errorf("at %s: %s, want %s\n%s", b.Engine.Now(), got, want, b.Trace())
	}
}

// TestRealFromTheStart: a card that asks real servers has no address of the modelled one
// for an instant: at tick 0 it searches, or asks for the lease that it remembers.
func TestRealFromTheStart(t *testing.T) {
	b := asking(t, "")
	b.state("searching")
	if b.lease(); b.Engine.Now() != 0 || b.Count(": address ") != 1 || b.Count(": address 198.18.0.50/24 (leased)") != 1 {
		t.Errorf("%s", b.Trace())
	}
	kept := `{"address":"198.18.0.77/24","gateway":"198.18.0.1","until":2000000000000}`
	b = remembering(t, "", &snap.Memory{Sections: map[string]json.RawMessage{"lease": json.RawMessage(kept)}})
	b.state("searching")
	if q := b.wants(snap.LeaseReboot, 0); q.Address.String() != "198.18.0.77" {
		t.Errorf("%+v", q)
	}
	b = asking(t, "dhcp = \"late\"\nlate = \"1m\"\n")
	if b.To(5 * min); b.Count(": address ") != 0 {
		t.Errorf("%s", b.Trace())
	}
}

// TestRealLease: the whole life of a lease (RFC 2131 sections 3.1 and 4.4.5): more is
// asked of the server after a half, of anybody after seven eighths, and at its end
// the address is given up.
func TestRealLease(t *testing.T) {
	b := asking(t, "")
	b.state("searching")
	b.lease().state("leased 198.18.0.50/24")
	q := b.wants(snap.LeaseRenew, 31*min)
	if q.Server.String() != "198.18.0.1" || b.Engine.Now() < 30*min {
		t.Errorf("at %s: %+v", b.Engine.Now(), q)
	}
	b.says(snap.LeaseAck, q)
	got := b.Engine.Now()
	if a := b.Site.Card.Address; a.Lease.Until != got+vtime.Hour || a.Lease.Overdue != 0 {
		t.Errorf("%+v", a)
	}
	steps := map[snap.LeaseStep]int{}
	for b.Engine.Now() < got+vtime.Hour-sec {
		if q := b.asked(got + vtime.Hour - sec - b.Engine.Now()); q.Step != "" {
			steps[q.Step]++
			if late := b.Engine.Now() >= got+vtime.Hour*7/8; late != (q.Step == snap.LeaseRebind) || late == q.Server.IsValid() {
				t.Errorf("at %s: %+v", b.Engine.Now()-got, q)
			}
		}
	}
	if steps[snap.LeaseRenew] < 3 || steps[snap.LeaseRebind] < 2 || len(steps) != 2 {
		t.Errorf("%v", steps)
	}
	b.state("leased")
	b.wants(snap.LeaseDiscover, 2*sec)
	b.state("searching")
	if !strings.Contains(journalText(b.Run), "lease of 198.18.0.50 expired") {
		t.Error(journalText(b.Run))
	}
}

// TestRealSilence: RFC 2131 section 4.1: without an answer the card asks again, ever
// later.
func TestRealSilence(t *testing.T) {
	b := asking(t, "")
	var at []vtime.Tick
	for len(at) < 7 {
		b.wants(snap.LeaseDiscover, 70*sec)
		at = append(at, b.Engine.Now())
	}
	for i, want := range []vtime.Tick{4 * sec, 8 * sec, 16 * sec, 32 * sec, 64 * sec, 64 * sec} {
		if gap := at[i+1] - at[i]; gap < want-sec || gap > want+sec+sec/10 {
			t.Errorf("try %d after %s, want %s", i+1, gap, want)
		}
	}
}

// TestRealAnswers: what is too late, not asked for or makes no sense does nothing.
func TestRealAnswers(t *testing.T) {
	b := asking(t, "")
	q := b.wants(snap.LeaseDiscover, sec)
	b.says(snap.LeaseAck, q)
	b.says(snap.LeaseNak, q)
	b.says(snap.LeaseOffer, snap.LeaseQuery{Round: q.Round + 1})
	for _, address := range []string{"127.0.0.9/8", "224.0.0.1/24", "0.0.0.0/8", "2001:db8::1/64", "198.18.0.50/0", "255.255.255.255/32"} {
		b.Do(snap.Command{Op: snap.OpLease, Lease: &snap.LeaseReply{
			Kind: snap.LeaseOffer, Round: q.Round, Server: netip.MustParseAddr("198.18.0.1"), Address: netip.MustParsePrefix(address), Lasts: vtime.Hour,
		}})
	}
	b.Do(snap.Command{Op: snap.OpLease})
	if q := b.asked(sec); q.Step != "" {
		t.Errorf("the card goes on: %+v", q)
	}
	b.state("searching")
	b.says(snap.LeaseOffer, q)
	b.wants(snap.LeaseRequest, sec)
}

// TestRealRefusals: a DHCPNAK to the request, to more of the lease, and to the
// address from before.
func TestRealRefusals(t *testing.T) {
	b := asking(t, "")
	b.says(snap.LeaseOffer, b.wants(snap.LeaseDiscover, sec))
	b.says(snap.LeaseNak, b.wants(snap.LeaseRequest, sec))
	b.lease().state("leased")
	b.says(snap.LeaseNak, b.wants(snap.LeaseRenew, 31*min))
	b.state("searching")
	b.lease().Ask(snap.OpRestart)
	q := b.wants(snap.LeaseReboot, 5*min)
	if q.Address.String() != "198.18.0.50" || q.Server.IsValid() {
		t.Errorf("%+v", q)
	}
	b.says(snap.LeaseNak, q)
	b.lease().state("leased")
}

// TestRealRestart: RFC 2131 section 3.2: a card that restarts asks for its last
// lease. Who is silent is given up, and asked anew; meanwhile the card does what is
// set.
func TestRealRestart(t *testing.T) {
	for word, want := range map[string]string{snap.LeaseWait: "searching", snap.LeaseLast: "last-lease 198.18.0.50/24", snap.LeaseLinkLocal: "link-local 169.254."} {
		b := asking(t, "").lease()
		s := *b.Site.Card.Saved.Clone()
		s.ChangeLinks(func(l *snap.LinkSettings) error { l.WithoutLease = word; return nil })
		b.Do(snap.Command{Op: snap.OpSave, Settings: &s})
		b.Ask(snap.OpRestart)
		b.wants(snap.LeaseReboot, 5*min)
		b.state("searching")
		b.wants(snap.LeaseReboot, 10*sec)
		b.wants(snap.LeaseDiscover, 20*sec)
		b.state(want)
		b.says(snap.LeaseOffer, b.wants(snap.LeaseDiscover, 30*sec))
		b.says(snap.LeaseAck, b.wants(snap.LeaseRequest, sec))
		b.state("leased 198.18.0.50/24")
	}
}

// TestRealDecline: RFC 2131 section 3.1: an address that another machine has is
// declined, also one that the card has had for a while.
func TestRealDecline(t *testing.T) {
	b := asking(t, "taken = [\"198.18.0.50\"]\n").lease()
	q := b.wants(snap.LeaseDecline, sec)
	if q.Address.String() != "198.18.0.50" || q.Server.String() != "198.18.0.1" {
		t.Errorf("%+v", q)
	}
	b.state("searching")
	if q := b.asked(9 * sec); q.Step != "" {
		t.Errorf("asks again at once: %+v", q)
	}
	b.Inject(`network = {release = "198.18.0.50"}`)
	b.To(b.Engine.Now() + sec)
	b.lease().state("leased")
	b.Inject(`network = {claim = "198.18.0.50"}`)
	b.wants(snap.LeaseDecline, sec)
	b.state("searching")
}

// TestRealLink: without a link nobody is asked; when it is back, for the last lease.
func TestRealLink(t *testing.T) {
	b := asking(t, "").lease()
	b.Inject(`link = "down"`)
	b.state("no-link")
	if q := b.asked(2 * min); q.Step != "" {
		t.Errorf("%+v", q)
	}
	b.Inject(`link = "up"`)
	b.says(snap.LeaseAck, b.wants(snap.LeaseReboot, sec))
	b.state("leased 198.18.0.50/24")
}

// FuzzExchange: whatever servers say in whatever order, the card has an address
// only of a lease that makes sense, and goes on asking.
func FuzzExchange(f *testing.F) {
	f.Add([]byte("oaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"))
	f.Add([]byte("o\x01\x02\x03\x04\x18\x00\x00\x0e\x10a\x01\x02\x03\x04\x18\x00\x00\x0e\x10n\x01\x02\x03\x04\x18\x00\x00\x0e\x10"))
	f.Fuzz(func(t *testing.T, text []byte) {
		b := asking(t, "")
		var q snap.LeaseQuery
		if len(text) > 120 {
			text = text[:120] // longer ones take their time and say no more
		}
		for len(text) >= 10 {
			if next := b.asked(sec); next.Step != "" {
				q = next
			}
			r := &snap.LeaseReply{
				Kind: map[byte]string{0: snap.LeaseOffer, 1: snap.LeaseAck, 2: snap.LeaseNak}[text[0]%4], Round: q.Round,
				Server: netip.AddrFrom4([4]byte(text[1:5])), Gateway: netip.AddrFrom4([4]byte(text[2:6])),
				Address: netip.PrefixFrom(netip.AddrFrom4([4]byte(text[1:5])), int(text[5]%40)),
				Lasts:   vtime.Tick(int32(binary.BigEndian.Uint32(text[6:]))), Renew: vtime.Tick(int8(text[7])), Rebind: vtime.Tick(int8(text[8])) * sec,
			}
			b.Do(snap.Command{Op: snap.OpLease, Lease: r})
			b.To(b.Engine.Now() + vtime.Tick(text[9]/4)*sec)
			text = text[10:]
		}
		a := b.Site.Card.Address
		if a.State == "leased" && snap.WrongHost(a.Prefix) != "" || a.State == "searching" && a.Prefix.IsValid() {
			t.Errorf("%+v", a)
		}
		if now := b.Engine.Now(); a.Lease.Until != 0 && (a.Lease.Until < now || a.Lease.Renew > a.Lease.Rebind || a.Lease.Rebind > a.Lease.Until) {
			t.Errorf("at %s: %+v", now, a.Lease)
		}
		if a.State == "searching" && b.asked(70*sec).Step == "" {
			t.Errorf("the card no longer asks: %+v", a)
		}
	})
}
