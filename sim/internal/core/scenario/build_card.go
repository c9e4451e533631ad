package scenario

import (
	"fmt"
	"net/netip"
	"regexp"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

var hardwareForm = regexp.MustCompile(`^[0-9a-f]{2}(:[0-9a-f]{2}){5}$`)

func (b *builder) card() error {
	t, seed := &b.file.Card, b.plan.Seed
	serial := or(t.SerialNumber, serialNumber(seed))
	hardware := or(t.Hardware, hardwareAddress(seed))
	if !hardwareForm.MatchString(hardware) {
		return b.src.at(t.at("hardware_address"), fmt.Sprintf("%q is not a hardware address", short(hardware)), `six pairs of lower-case hexadecimal digits, such as "02:00:5e:10:20:30"`)
	}
	settings, err := b.settings(t, serial)
	if err != nil {
		return err
	}
	if !slices.Contains(setting.UnitSpeeds, int(t.UPSLinkSpeed)) {
		return b.src.at(t.at("ups_link_speed"), fmt.Sprintf("no unit speaks at %d bit/s", t.UPSLinkSpeed), "one of 1200, 2400, 4800, 9600, 19200, 38400")
	}
	clock, err := b.clock(&t.Clock, &settings)
	if err != nil {
		return err
	}
	b.plan.Card = plan.Card{
		Identity: snap.Identity{SerialNumber: serial, Model: t.Model, Firmware: t.Firmware, Hardware: hardware},
		Settings: settings,
		CardMake: &plan.CardMake{
			Clock:     clock,
			BootTakes: t.BootTakes, Watchdog: t.Watchdog, UnitTakes: t.UPSLinkTakes, UnitSpeed: int(t.UPSLinkSpeed), NoDetect: !t.UPSLinkFound, Waits: t.Lookups == "blocking",
			RestartAborts: t.RestartAborts, Forgets: t.Journal == "volatile",
			User: t.User, ReadFromSeed: t.ReadCommunity == nil, WriteFromSeed: t.WriteCommunity == nil,
			Private: t.Private,
		},
	}
	if err := b.signIn(t, &b.plan.Card.Settings); err != nil {
		return err
	}
	if err := b.accounts(t); err != nil {
		return err
	}
	if err := b.access(t); err != nil {
		return err
	}
	if err := b.quirks(t.Quirks); err != nil {
		return err
	}
	if err := b.releases(t.Releases); err != nil {
		return err
	}
	if err := b.receivers(t); err != nil {
		return err
	}
	if err := b.alerts(t.Alerts); err != nil {
		return err
	}
	if err := b.preset(t.Set, &b.plan.Card.Settings); err != nil { // last: it counts before the other keys
		return err
	}
	b.plan.Card.Settings.Seal()
	return nil
}

func (b *builder) settings(t *cardTable, serial string) (snap.Settings, error) {
	s := snap.Settings{
		Name: or(t.Name, cardName(serial)), Location: t.Location, Contact: t.Contact,
		UPSName: t.UPSName, Attached: or(t.Attached, b.attached()),
		ReadCommunity:  snap.NewSecret(or(t.ReadCommunity, community(b.plan.Seed, serial, "read"))),
		WriteCommunity: snap.NewSecret(or(t.WriteCommunity, community(b.plan.Seed, serial, "write"))),
	}
	s.Restart = snap.RestartGate{Pct: uint8(or(t.RestartPct, 0)), Off: t.RestartOff}
	s.Groups = b.plan.OutletGroups()
	if err := b.controlPath(s.Groups); err != nil {
		return s, err
	}
	s.Surroundings = b.told
	s.Surroundings.BySocket = t.ProbesBy == "socket"
	s.Conformance, _ = snap.ConformanceByName(t.Conformance) // the schema lists the names
	if s.ReadCommunity.Same(s.WriteCommunity) && !s.ReadCommunity.Empty() {
		return s, b.src.at(t.at("write_community"), "read_community and write_community are the same", "two different words")
	}
	return s, b.address(t, &s)
}

// address sets the mode, and in fixed mode the address and gateway.
func (b *builder) address(t *cardTable, s *snap.Settings) error {
	if t.Address == "dhcp" {
		s.Mode = snap.AddressDHCP
		if t.Gateway != nil {
			return b.src.at(t.at("gateway"), "a gateway is set although the address comes by DHCP", "a fixed address, or no gateway")
		}
		return nil
	}
	prefix, err := netip.ParsePrefix(t.Address)
	if err != nil {
		return b.src.at(t.at("address"), fmt.Sprintf("address is the text %q", short(t.Address)), `"dhcp", or a fixed address with the length of its mask, such as "192.0.2.10/24"`)
	}
	s.Mode, s.Fixed, s.Gateway = snap.AddressFixed, prefix, or(t.Gateway, netip.Addr{})
	if err := b.ownAddress(t.at("address"), prefix); err != nil {
		return err
	}
	return b.gateway(t.at("gateway"), prefix, s.Gateway)
}

// ownAddress refuses addresses that the card cannot have. One of loopback is for
// serve --bind real, on one machine.
func (b *builder) ownAddress(offset int, p netip.Prefix) error {
	if p.Addr().IsLoopback() && p.Bits() < 31 {
		return nil
	}
	return b.hostAddress(offset, p)
}

// hostAddress refuses addresses that no machine can have.
func (b *builder) hostAddress(offset int, p netip.Prefix) error {
	a := p.Addr()
	why := ""
	switch {
	case a.IsUnspecified() || a.IsLoopback() || a.IsMulticast() || a.Zone() != "":
		why = "is not the address of one machine on a network"
	case a.Is4() && p.Bits() < 31 && a == p.Masked().Addr():
		why = "is the address of the network itself"
	case a.Is4() && p.Bits() < 31 && !p.Contains(a.Next()):
		why = "is the broadcast address of its network"
	default:
		return nil
	}
	return b.src.at(offset, p.String()+" "+why, `an address such as "192.0.2.10/24"`)
}

func (b *builder) gateway(offset int, p netip.Prefix, gw netip.Addr) error {
	if !gw.IsValid() {
		return nil
	}
	if !p.Contains(gw) || gw == p.Addr() {
		return b.src.at(offset, fmt.Sprintf("the gateway %s is not another address in %s", gw, p.Masked()), "an address in the same network")
	}
	return nil
}

// attached is the names of the hosts, as many as the object holds.
func (b *builder) attached() string {
	const most = 63 // upsIdentAttachedDevices, RFC 1628
	text := ""
	for _, h := range b.plan.Hosts {
		next := strings.TrimPrefix(text+", "+h.Name, ", ")
		if len(next) > most {
			break
		}
		text = next
	}
	return text
}
