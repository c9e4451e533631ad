package setting

import (
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// maxAllow is how many entries the access list holds.
const maxAllow = 16

func init() {
	declare(Reach,
		unasked(links.own(choice("reach.without-lease", "without a lease",
			"What to do after a restart while no address server answers: wait searches on without an address, last uses the last lease for as long as it is valid (RFC 2131 section 3.2), link-local takes an address of 169.254.0.0/16 meanwhile (RFC 3927).",
			[]string{snap.LeaseWait, snap.LeaseLast, snap.LeaseLinkLocal}, linkOf(func(l *snap.LinkSettings) *string { return &l.WithoutLease })))),
		fixedOnly(links.own(address("reach.dns-1", "first name server", "Address of a name server, for a fixed address; with dhcp the address server names them.",
			true, parseAny, linkOf(func(l *snap.LinkSettings) *netip.Addr { return &l.DNS[0] })))),
		fixedOnly(links.own(address("reach.dns-2", "second name server", "Asked where the first is silent. One that the UPS does not hold is no help in an outage.",
			true, parseAny, linkOf(func(l *snap.LinkSettings) *netip.Addr { return &l.DNS[1] })))),
		unasked(atOnce(links.own(moment("reach.names-kept", "keep addresses of names", "How long an address that was found for a name is used again without asking. none asks each time: mail to a relay by name then needs a name server in an outage too. A restart forgets them.",
			vtime.Second, 7*24*vtime.Hour, 0, linkOf(func(l *snap.LinkSettings) *vtime.Tick { return &l.NamesKept }))))),
		unasked(unique(links.own(secondAddress()))),
		unasked(links.own(choice("reach.ipv6", "IPv6", "off; auto makes an address of what the router advertises and the hardware address (RFC 4862); fixed uses the one below.",
			[]string{snap.V6Off, snap.V6Auto, snap.V6Fixed}, linkOf(func(l *snap.LinkSettings) *string { return &l.V6Mode })))),
		v6Only(unique(links.own(v6Address()))),
		v6Only(links.own(v6Gateway())),
		unasked(links.own(linkMode())),
		unasked(links.own(vlan())),
		unasked(links.own(serialSpeed())),
	)
	declare(Access,
		allowList(),
		cautioned("clients that refuse the new ones are shut out of SSH from now on. Keep this session or the serial line open until one has got in.", unasked(atOnce(links.own(choice("access.ssh-algorithms", "SSH algorithms",
			"modern offers what is thought safe today. legacy offers nothing but key exchanges and ciphers with SHA-1 and CBC, as old cards do: a client with a modern policy has to refuse it, and to say why.",
			[]string{snap.SSHModern, snap.SSHLegacy}, linkOf(func(l *snap.LinkSettings) *string { return &l.SSH })))))),
	)
	declare(Upkeep,
		unasked(links.own(unitSpeed())),
		unasked(atOnce(links.own(choice("upkeep.no-contact", "without contact to the UPS",
			"What the card shows of a unit that it has lost contact with: frozen keeps the last readings, blank shows none. The alarm communications_lost is present either way.",
			[]string{snap.ContactFrozen, snap.ContactBlank}, linkOf(func(l *snap.LinkSettings) *string { return &l.NoContact }))))),
	)
	together = append(together, sixHolds, secondHolds)
}

// links is the section of the link settings.
var links = section(func(s *snap.Settings, do func(*snap.Settings) error) error {
	return s.ChangeLinks(func(l *snap.LinkSettings) error { return do(&snap.Settings{Links: l}) })
})

// linkOf finds a field of the link settings. What it finds is written to only
// within links.own.
func linkOf[T any](field func(*snap.LinkSettings) *T) func(*snap.Settings, int) *T {
	return func(s *snap.Settings, _ int) *T { return field(s.Link()) }
}

func unasked(x *Setting) *Setting {
	x.Asked = func(*snap.Settings) bool { return false }
	return x
}

func v6Only(x *Setting) *Setting {
	x.Asked = func(s *snap.Settings) bool { return s.Link().V6Mode == snap.V6Fixed }
	return x
}

func parseAny(text string) (netip.Addr, error) {
	addr, err := netip.ParseAddr(text)
	if err != nil || !oneMachine(addr) {
		return netip.Addr{}, fmt.Errorf("%q is not an address of a machine: type one such as 192.0.2.53 or 2001:db8::53", text)
	}
	return addr, nil
}

func parseSix(text string) (netip.Addr, error) {
	addr, err := netip.ParseAddr(text)
	if err != nil || !addr.Is6() || addr.Is4In6() || addr.Zone() != "" || addr.IsUnspecified() || addr.IsMulticast() {
		return netip.Addr{}, fmt.Errorf("%q is not an IPv6 address: type one such as 2001:db8::1", text)
	}
	return addr, nil
}

func v6Gateway() *Setting {
	s := address("reach.ipv6-gateway", "IPv6 gateway", "Address of the router in the card's own IPv6 network.",
		true, parseSix, linkOf(func(l *snap.LinkSettings) *netip.Addr { return &l.V6Gateway }))
	s.Takes = "an address such as 2001:db8::1, or none"
	return s
}

func v6Address() *Setting {
	return &Setting{
		Path: "reach.ipv6-address", Label: "IPv6 address", Help: "Fixed IPv6 address of the card and the length of its network's prefix.",
		Takes: "an address with its prefix such as 2001:db8::10/64, or none",
		get:   func(s *snap.Settings, _ int) string { return OrNone(s.Link().V6Address) },
		set: func(s *snap.Settings, _ int, v string) error {
			if v == "" || v == "-" || strings.ToLower(v) == "none" {
				s.Links.V6Address = netip.Prefix{}
				return nil
			}
			p, err := netip.ParsePrefix(v)
			if err != nil {
				return fmt.Errorf("%q is not an IPv6 address with a prefix: type it as 2001:db8::10/64", v)
			}
			if _, err := parseSix(p.Addr().String()); err != nil {
				return err
			}
			if p.Bits() == 0 { // ::1 is for serve --bind real, on one machine
				return fmt.Errorf("%s cannot be the address of a card", p)
			}
			s.Links.V6Address = p
			return nil
		},
	}
}

func sixHolds(s *snap.Settings) error {
	l := s.Link()
	switch {
	case l.V6Mode != snap.V6Fixed:
		return nil
	case !l.V6Address.IsValid():
		return errors.New("reach.ipv6-address: a fixed IPv6 address needs an address and a prefix")
	case l.V6Gateway.IsValid() && !l.V6Gateway.IsLinkLocalUnicast() && (!l.V6Address.Contains(l.V6Gateway) || l.V6Gateway == l.V6Address.Addr()):
		return fmt.Errorf("reach.ipv6-gateway: %s is not another address in %s", l.V6Gateway, l.V6Address.Masked())
	}
	return nil
}

// SerialSpeeds are the speeds that the serial line knows.
var SerialSpeeds = []int{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200}

func serialSpeed() *Setting {
	return speed("reach.serial-speed", "speed of the serial line",
		"In bits per second, with 8 data bits, no parity, 1 stop bit. A terminal at another speed sees garbage, and so does the card. any takes whatever the terminal is set to.",
		"any", SerialSpeeds, func(l *snap.LinkSettings) *int { return &l.SerialBit })
}

// UnitSpeeds are the speeds at which card and unit can speak.
var UnitSpeeds = []int{1200, 2400, 4800, 9600, 19200, 38400}

func unitSpeed() *Setting {
	x := speed("upkeep.unit-speed", "speed of the connection to the UPS",
		"In bits per second. auto tries one after the other until the unit answers, which takes its time after every start and may find nothing.",
		"auto", UnitSpeeds, func(l *snap.LinkSettings) *int { return &l.UnitBit })
	x.Caution = "at a speed that is not the unit's the card has no contact with it from the next restart on: no reading, no alarm and no order gets through."
	return x
}

// speed is one of some speeds, or the word none for 0.
func speed(path, label, help, none string, speeds []int, at func(*snap.LinkSettings) *int) *Setting {
	words := []string{none}
	for _, n := range speeds {
		words = append(words, strconv.Itoa(n))
	}
	return &Setting{
		Path: path, Label: label, Help: help, Takes: "one of " + strings.Join(words, ", "), Words: words,
		get: func(s *snap.Settings, _ int) string {
			if n := *at(s.Link()); n != 0 {
				return strconv.Itoa(n)
			}
			return none
		},
		set: func(s *snap.Settings, _ int, v string) error {
			i := slices.Index(words, strings.ToLower(v))
			if i < 0 {
				return fmt.Errorf("%q: expected one of %s", v, strings.Join(words, ", "))
			}
			*at(s.Links) = append([]int{0}, speeds...)[i]
			return nil
		},
	}
}

func allowList() *List {
	entries := func(s *snap.Settings) *[]snap.Allow { return &s.Link().Allow }
	return atOnceList(links.ownList(list("access.allow", "allowed network",
		"From where a service may be used. A service that no entry names is open to everybody; one that is named is open to the networks of its entries alone, over IPv4 and IPv6. Rules that would shut out whoever saves them over SSH are saved only when that is confirmed. The serial line is always open.",
		maxAllow, entries, func(a *snap.Allow) *string { return &a.Name },
		func() snap.Allow { return snap.Allow{Service: "all", Network: netip.MustParsePrefix("192.0.2.0/24")} },
		choice("service", "service", "Which service the entry opens.", []string{"snmp", "ssh", "all"},
			func(s *snap.Settings, i int) *string { return &(*entries(s))[i].Service }),
		allowedNetwork(entries))))
}

func allowedNetwork(entries func(*snap.Settings) *[]snap.Allow) *Setting {
	return &Setting{
		Path: "network", Label: "network", Help: "Addresses that may use it.", Takes: "a network such as 192.0.2.0/24 or 2001:db8::/64",
		get: func(s *snap.Settings, i int) string { return (*entries(s))[i].Network.String() },
		set: func(s *snap.Settings, i int, v string) error {
			p, err := netip.ParsePrefix(v)
			if err != nil {
				return fmt.Errorf("%q is not a network: type it as 192.0.2.0/24; for one machine 192.0.2.7/32", v)
			}
			(*entries(s))[i].Network = p.Masked()
			return nil
		},
	}
}
