package card_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const leased = site + "[network]\nlease = \"1h\"\ndns = [\"192.0.2.53\", \"198.51.100.53\"]\n"

// TestLease: RFC 2131 section 4.4.5: more is asked for after a half of the lease,
// and it then lasts as long again.
func TestLease(t *testing.T) {
	r := playtest.Start(t, leased)
	want := snap.Lease{Server: r.Site.Card.Address.Gateway, Renew: 30 * min, Rebind: 52*min + 30*sec, Until: vtime.Hour}
	if got := r.Site.Card.Address; got.Lease != want || got.DNS[1].String() != "198.51.100.53" {
		t.Errorf("%+v", got)
	}
	r.To(30 * min)
	if got := r.Site.Card.Address.Lease; got.Until != 90*min {
		t.Errorf("renewed: %+v", got)
	}
	r.To(23 * vtime.Hour)
	if got := r.Site.Card.Address; got.State != "leased" || r.Count("address") != 1 {
		t.Errorf("after a day: %+v\n%s", got, r.Trace())
	}
}

// TestLeaseExpires: without a server the card asks on, no more often than once a
// minute, keeps the address until the lease is over, and then has none.
func TestLeaseExpires(t *testing.T) {
	r := playtest.Start(t, leased).Inject(`dhcp = "absent"`).To(vtime.Hour - sec)
	a := r.Site.Card.Address
	if a.State != "leased" || a.Lease.Overdue < 4 || a.Lease.Overdue > 30 {
		t.Errorf("just before the end: %+v", a)
	}
	r.To(vtime.Hour)
	if a := r.Site.Card.Address; a.State != "searching" || a.Reachable() {
		t.Errorf("after the end: %+v", a)
	}
	r.Inject(`dhcp = "present"`).To(vtime.Hour + 2*min)
	if r.Site.Card.Address.State != "leased" || !strings.Contains(journalText(r), "lease of 192.0.2.10 expired") {
		t.Errorf("%+v\n%s", r.Site.Card.Address, journalText(r))
	}
}

// TestServerBackInTime: a server that comes back before the end renews the lease.
func TestServerBackInTime(t *testing.T) {
	r := playtest.Start(t, leased).Inject(`dhcp = "absent"`).To(40 * min).Inject(`dhcp = "present"`).To(55 * min)
	if a := r.Site.Card.Address; a.State != "leased" || a.Lease.Overdue != 0 || a.Lease.Until <= vtime.Hour {
		t.Errorf("%+v", a)
	}
}

// TestChangedAddress: a server with another address for the card refuses to renew;
// the change is in the journal.
func TestChangedAddress(t *testing.T) {
	r := playtest.Start(t, leased).Inject(`network = {offer = "192.0.2.77/24"}`).To(29 * min)
	if got := r.Site.Card.Address.Prefix.Addr().String(); got != "192.0.2.10" {
		t.Errorf("before the renewal: %s", got)
	}
	r.To(31 * min)
	if got := r.Site.Card.Address.Prefix.Addr().String(); got != "192.0.2.77" || !strings.Contains(journalText(r), "address changed from 192.0.2.10 to 192.0.2.77") {
		t.Errorf("%s\n%s", got, journalText(r))
	}
}

// TestDecline: RFC 2131 section 3.1: an offered address that another machine has is
// declined; after ten seconds the card asks again and gets the next one.
func TestDecline(t *testing.T) {
	r := playtest.Start(t, leased+"taken = [\"192.0.2.10\"]\n").To(9 * sec)
	if r.Site.Card.Address.Reachable() {
		t.Error("took an address that another machine has")
	}
	r.To(11 * sec)
	if got := r.Site.Card.Address.Prefix.String(); got != "192.0.2.11/24" || r.Count("declines 192.0.2.10") != 1 {
		t.Errorf("%s\n%s", got, r.Trace())
	}
	r.To(min).Inject(`network = {claim = "192.0.2.11"}`).To(2 * min)
	if got := r.Site.Card.Address.Prefix.String(); got != "192.0.2.12/24" {
		t.Errorf("a lease that another machine took: %s", got)
	}
}

// TestDuplicate: RFC 5227: a fixed address that another machine has is not used; the
// card looks again, and takes it when it is free.
func TestDuplicate(t *testing.T) {
	r := playtest.Start(t, fixed).To(min).Inject(`network = {claim = "192.0.2.10"}`).To(10 * min)
	if c := r.Site.Card; c.Address.State != snap.AddressDuplicate || c.Address.Reachable() || r.Site.Lamps(10 * min)[2].Pattern != snap.Double {
		t.Errorf("%+v", c.Address)
	}
	if n := strings.Count(journalText(r), "another machine has the address 192.0.2.10"); n != 1 {
		t.Errorf("%d entries:\n%s", n, journalText(r))
	}
	r.Inject(`network = {release = "192.0.2.10"}`).To(12 * min)
	if r.Site.Card.Address.State != "fixed" {
		t.Errorf("%+v", r.Site.Card.Address)
	}
}

// TestWithoutLease: what a card does that restarts while no server is there, as set.
func TestWithoutLease(t *testing.T) {
	for word, want := range map[string]string{snap.LeaseWait: "searching ", snap.LeaseLast: "last-lease 192.0.2.10", snap.LeaseLinkLocal: "link-local 169.254."} {
		r := playtest.Start(t, leased)
		s := *r.Site.Card.Saved.Clone()
		s.ChangeLinks(func(l *snap.LinkSettings) error { l.WithoutLease = word; return nil })
		if res := r.Do(snap.Command{Op: snap.OpSave, Settings: &s}); res.Status != snap.Done {
			t.Fatal(res.Reason)
		}
		r.Inject(`dhcp = "absent"`).Ask(snap.OpRestart).To(5 * min)
		a := r.Site.Card.Address
		if got := a.State + " " + strings.TrimPrefix(a.Prefix.Addr().String(), "invalid IP"); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %s, want %s", word, got, want)
		}
		if r.To(2 * vtime.Hour); word == snap.LeaseLast && r.Site.Card.Address.State != "searching" {
			t.Errorf("uses a lease that is over: %+v", r.Site.Card.Address)
		}
		if r.Inject(`dhcp = "present"`).To(2*vtime.Hour + 2*min); r.Site.Card.Address.State != "leased" {
			t.Errorf("%s: the server came: %+v", word, r.Site.Card.Address)
		}
	}
}

// TestSix: RFC 4862 with RFC 4291 appendix A, whose example of 34-56-78-9A-BC-DE is
// 36-56-78-FF-FE-9A-BC-DE with the universal bit inverted.
func TestSix(t *testing.T) {
	src := strings.Replace(site, "boot_takes", "hardware_address = \"34:56:78:9a:bc:de\"\nboot_takes", 1) + "[network]\nprefix6 = \"2001:db8:1::/64\"\n"
	r := playtest.Start(t, src)
	set := func(f func(l *snap.LinkSettings)) {
		s := *r.Site.Card.Saved.Clone()
		s.ChangeLinks(func(l *snap.LinkSettings) error { f(l); return nil })
		if res := r.Do(snap.Command{Op: snap.OpSave, Settings: &s}); res.Status != snap.Done {
			t.Fatal(res.Reason)
		}
		r.Ask(snap.OpRestart).To(r.Engine.Now() + 2*min)
	}
	state := func(want string) {
		t.Helper()
		if got := strings.TrimSpace(r.Site.Card.Address.V6State + " " + r.Site.Card.Address.V6.String()); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	state("off invalid Prefix")
	set(func(l *snap.LinkSettings) { l.V6Mode = snap.V6Auto })
	state("auto 2001:db8:1:0:3656:78ff:fe9a:bcde/64")
	r.Inject(`network = {router = "absent"}`)
	state("searching invalid Prefix")
	r.Inject(`network = {router = "present"}`)
	state("auto 2001:db8:1:0:3656:78ff:fe9a:bcde/64")
}
