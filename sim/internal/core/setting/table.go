package setting

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

// Lengths: DisplayString (RFC 2579) allows 255 characters; RFC 1628 allows 63
// for upsIdentName and upsIdentAttachedDevices. That of a community is ours.
const (
	displayString = 255
	identString   = 63
	community     = 32
)

func init() {
	declare(Identity,
		unique(atOnce(names("identity.name", "name", "Name of the card; it appears in SNMP (sysName) and helps to tell cards apart.",
			displayString, func(s *snap.Settings, _ int) *string { return &s.Name }))),
		atOnce(names("identity.location", "location", "Where the unit stands: site, room and rack, in that order, help whoever has to find it (sysLocation).",
			displayString, func(s *snap.Settings, _ int) *string { return &s.Location })),
		atOnce(names("identity.contact", "contact", "Who looks after the unit: a function or a desk outlives a person's name (sysContact).",
			displayString, func(s *snap.Settings, _ int) *string { return &s.Contact })),
		unique(atOnce(names("identity.unit", "name of the UPS", "Name of the unit itself (upsIdentName).",
			identString, func(s *snap.Settings, _ int) *string { return &s.UPSName }))),
		atOnce(names("identity.attached", "attached devices", "What the unit feeds (upsIdentAttachedDevices).",
			identString, func(s *snap.Settings, _ int) *string { return &s.Attached })),
	)
	declare(Reach,
		choice("reach.mode", "address mode", "dhcp asks the address server of the network, fixed uses the address below.",
			[]snap.AddressMode{snap.AddressDHCP, snap.AddressFixed}, func(s *snap.Settings, _ int) *snap.AddressMode { return &s.Mode }),
		fixedOnly(unique(fixedAddress())),
		fixedOnly(address("reach.gateway", "gateway",
			"Address of the router in the card's own network: without it, or with a wrong one, only machines of the same network reach the card.",
			true, ParseAddr, gateway)),
	)
	declare(Access,
		secret("access.read-community", "read community",
			"SNMP v1 and v2c: what a reader has to send. Empty switches reading off.",
			1, community, func(s *snap.Settings, _ int) *snap.Secret { return &s.ReadCommunity }),
		secret("access.write-community", "write community",
			"SNMP v1 and v2c: what a writer has to send. Leave it empty unless something has to write.",
			1, community, func(s *snap.Settings, _ int) *snap.Secret { return &s.WriteCommunity }),
		conformance(),
	)
}

func unique(x *Setting) *Setting { x.Unique = true; return x }
func atOnce(x *Setting) *Setting { x.AtOnce = true; return x }

// fixedOnly asks for x where the address is fixed.
func fixedOnly(x *Setting) *Setting {
	x.Asked = func(s *snap.Settings) bool { return s.Mode == snap.AddressFixed }
	return x
}

func fixedAddress() *Setting {
	return &Setting{
		Path: "reach.address", Label: "fixed address", Help: "Address of the card and the mask of its network, as the address plan says.",
		Takes: "an address with its mask such as 192.0.2.10/24 or 192.0.2.10 255.255.255.0",
		get:   func(s *snap.Settings, _ int) string { return OrNone(s.Fixed) },
		set: func(s *snap.Settings, _ int, v string) error {
			p, err := ParseNetwork(v)
			if err == nil {
				s.Fixed = p
			}
			return err
		},
	}
}

// conformance is left alone by a guided edit: who changes it wants to see what a
// client makes of it.
func conformance() *Setting {
	return unasked(named("access.conformance", "objects of RFC 1628",
		"How much of RFC 1628 SNMP shows: every object, or those of one of its compliance statements. The others are absent.",
		[]snap.Conformance{snap.ConformAll, snap.ConformFull, snap.ConformBasic, snap.ConformSubset},
		func(s *snap.Settings, _ int) *snap.Conformance { return &s.Conformance }))
}

func gateway(s *snap.Settings, _ int) *netip.Addr { return &s.Gateway }
