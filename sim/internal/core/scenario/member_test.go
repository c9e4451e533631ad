package scenario

import (
	"net/netip"
	"slices"
	"testing"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

const aFleet = `
title = "Three and more sites"
run_for = "1h"
[fleet]
count = 3
each = "port"
scenarios = [{ file = "other.toml", count = 2 }]
[card]
read_community = "watch"
ups_name = "rack"
[[at]]
time = "1m"
source = "lost"
[[at]]
time = "2m"
devices = "1, 3-4"
charge_pct = 40
`

func loadFleet(t *testing.T, text string) *plan.Plan {
	t.Helper()
	p, err := Load("fleet.toml", []byte(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestFleetIsRead(t *testing.T) {
	f := loadFleet(t, aFleet).Fleet
	want := plan.Fleet{Count: 3, Ports: true, Files: []plan.FleetFile{{Line: 7, Column: 23, Path: "other.toml", Count: 2}}}
	if f == nil || f.Count != want.Count || f.Ports != want.Ports || !slices.Equal(f.Files, want.Files) {
		t.Errorf("got %+v, want %+v", f, want)
	}
}

// What has to differ between two devices differs, what the file sets does not.
func TestMember(t *testing.T) {
	p := loadFleet(t, aFleet)
	one, two := Member(p, 1), Member(p, 2)
	a, b := &one.Card, &two.Card
	switch {
	case one.Seed == two.Seed, one.Seed == p.Seed:
		t.Errorf("seeds %d and %d of %d", one.Seed, two.Seed, p.Seed)
	case a.Identity.SerialNumber == b.Identity.SerialNumber, a.Identity.SerialNumber != p.Card.Identity.SerialNumber+"-00001":
		t.Errorf("serial numbers %q and %q", a.Identity.SerialNumber, b.Identity.SerialNumber)
	case a.Identity.Hardware == b.Identity.Hardware, a.Settings.Name == b.Settings.Name, a.Settings.UPSName != "rack-00001":
		t.Errorf("%+v\n%+v", a, b)
	case a.Settings.ReadCommunity.Reveal() != "watch", b.Settings.ReadCommunity.Reveal() != "watch", a.Settings.WriteCommunity.Same(b.Settings.WriteCommunity):
		t.Errorf("communities %+v\n%+v", a.Settings, b.Settings)
	case one.Card.Offer != netip.MustParsePrefix("198.18.0.2/15"), two.Card.Offer != netip.MustParsePrefix("198.18.0.3/15"):
		t.Errorf("addresses %v and %v", one.Card.Offer, two.Card.Offer)
	}
	if again := Member(p, 1); again.Seed != one.Seed || !again.Card.Settings.Same(&one.Card.Settings) {
		t.Error("the same device comes out otherwise")
	}
	if p.Card.Settings.UPSName != "rack" {
		t.Error("the plan itself was changed")
	}
}

func TestLastMemberHasAnAddress(t *testing.T) {
	if p, gw := fleetAddress(maxDevices); !fleetNet.Contains(p.Addr()) || p.Addr() == gw || !fleetNet.Contains(p.Addr().Next()) {
		t.Errorf("%v behind %v", p, gw)
	}
}

func TestFixedAddressesDiffer(t *testing.T) {
	p := loadFleet(t, "title='x'\nrun_for='1h'\n[fleet]\ncount=2\n[card]\naddress='192.0.2.10/24'\n")
	s := Member(p, 2).Card.Settings
	if s.Mode != snap.AddressFixed || s.Fixed != netip.MustParsePrefix("198.18.0.3/15") || s.Gateway != netip.MustParseAddr("198.18.0.1") {
		t.Errorf("%+v", s)
	}
}

func TestEntriesOfSomeDevices(t *testing.T) {
	p := loadFleet(t, aFleet)
	for n, want := range map[int]int{1: 2, 2: 1, 3: 2, 4: 2, 5: 1} {
		if got := len(Member(p, n).Entries); got != want {
			t.Errorf("device %d: %d entries, want %d", n, got, want)
		}
	}
	if &Member(p, 1).Entries[0] != &p.Entries[0] {
		t.Error("a device to which all entries happen has a list of its own")
	}
}
