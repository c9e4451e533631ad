package card

import (
	"net/netip"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// TestSave: what cannot be in force is refused and leaves the memory as it was.
// Lengths: RFC 3418 sysName and its neighbours 255, RFC 1628 upsIdentName and
// upsIdentAttachedDevices 63, all DisplayString (RFC 2579); communities ours.
func TestSave(t *testing.T) {
	good := snap.Settings{Mode: snap.AddressFixed, Fixed: netip.MustParsePrefix("192.0.2.10/24"), ReadCommunity: snap.NewSecret("r"), WriteCommunity: snap.NewSecret("w")}
	for name, row := range map[string]struct {
		change func(*snap.Settings)
		status snap.Status
	}{
		"good":                     {func(*snap.Settings) {}, snap.Done},
		"dhcp without an address":  {func(s *snap.Settings) { s.Mode, s.Fixed = snap.AddressDHCP, netip.Prefix{} }, snap.Done},
		"fixed without an address": {func(s *snap.Settings) { s.Fixed = netip.Prefix{} }, snap.WrongValue},
		"no mode":                  {func(s *snap.Settings) { s.Mode = "" }, snap.WrongValue},
		"longest name":             {func(s *snap.Settings) { s.Name = strings.Repeat("n", 255) }, snap.Done},
		"name too long":            {func(s *snap.Settings) { s.Name = strings.Repeat("n", 256) }, snap.WrongValue},
		"location too long":        {func(s *snap.Settings) { s.Location = strings.Repeat("n", 256) }, snap.WrongValue},
		"contact not ASCII":        {func(s *snap.Settings) { s.Contact = "Zoë" }, snap.WrongValue},
		"UPS name too long":        {func(s *snap.Settings) { s.UPSName = strings.Repeat("n", 64) }, snap.WrongValue},
		"attached too long":        {func(s *snap.Settings) { s.Attached = strings.Repeat("n", 64) }, snap.WrongValue},
		"community too long":       {func(s *snap.Settings) { s.ReadCommunity = snap.NewSecret(strings.Repeat("n", 33)) }, snap.WrongValue},
		"read opens write":         {func(s *snap.Settings) { s.WriteCommunity = snap.NewSecret("r") }, snap.WrongValue},
		"both accesses off":        {func(s *snap.Settings) { s.ReadCommunity, s.WriteCommunity = snap.Secret{}, snap.Secret{} }, snap.Done},
	} {
		b := newBench(snap.AddressFixed)
		before, s := *b.card.kept.Settings, good
		row.change(&s)
		r := b.card.Save(1, snap.Actor{Surface: "ssh"}, s, 0)
		if r.Status != row.status {
			t.Errorf("%s: status %d (%s), want %d", name, r.Status, r.Reason, row.status)
		}
		if want := map[bool]snap.Settings{true: s, false: before}[row.status == snap.Done]; !b.card.kept.Settings.Same(&want) {
			t.Errorf("%s: the memory holds %+v", name, b.card.kept.Settings)
		}
	}
}

// TestNames: the same limits for what SNMP writes.
func TestNames(t *testing.T) {
	b := newBench(snap.AddressFixed)
	for _, row := range []struct {
		v     snap.Var
		limit int
	}{
		{snap.VarSysName, 255}, {snap.VarSysContact, 255}, {snap.VarSysLocation, 255},
		{snap.VarIdentName, 63}, {snap.VarAttachedDevices, 63},
	} {
		for extra, want := range []snap.Status{snap.Done, snap.WrongValue} {
			a := snap.Assignment{Var: row.v, Text: strings.Repeat("x", row.limit+extra)}
			if r, handled := b.card.Check(a); !handled || r.Status != want {
				t.Errorf("%s with %d characters: %+v", row.v, len(a.Text), r)
			}
		}
	}
	if r, _ := b.card.Check(snap.Assignment{Var: snap.VarAuthenTraps, Int: 3}); r.Status != snap.WrongValue {
		t.Errorf("snmpEnableAuthenTraps 3: %+v", r) // RFC 3418: 1 or 2
	}
	if _, handled := b.card.Check(snap.Assignment{Var: snap.VarReboot}); handled {
		t.Error("the card answers for a variable of the unit")
	}
}
