package snap

import (
	"net/netip"
	"reflect"
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// Words of [LinkSettings].
const (
	LeaseWait      = "wait"       // search on, without an address
	LeaseLast      = "last"       // use the last lease for as long as it is valid
	LeaseLinkLocal = "link-local" // take a link-local address meanwhile (RFC 3927)

	V6Off   = "off"
	V6Auto  = "auto"  // made of what the router advertises (RFC 4862)
	V6Fixed = "fixed" // as set

	ContactFrozen = "frozen" // the last readings stay
	ContactBlank  = "blank"  // there are none

	SSHModern = "modern"
	SSHLegacy = "legacy"
)

// LinkSettings are settings of how the card is reached and what it does without
// contact. Nil in [Settings] means what a new card has.
type LinkSettings struct {
	WithoutLease string
	DNS          [2]netip.Addr // used with a fixed address; may be invalid

	// Second is a further IPv4 address, which the card has as long as it lies in the
	// network that it is in; may be invalid.
	Second netip.Addr `json:",omitzero"`

	V6Mode    string
	V6Address netip.Prefix // used in mode fixed
	V6Gateway netip.Addr   // likewise; may be invalid

	Mode LinkMode // of the network port
	VLAN int      // that its frames belong to; 0: they have no tag

	Allow     []Allow    // from where a service may be used; none of a service: from everywhere
	SSH       string     // which algorithms the SSH server offers
	SerialBit int        // speed of the serial line in bits per second; 0: any
	UnitBit   int        // speed of the connection to the unit in bits per second; 0: the card tries
	NamesKept vtime.Tick // how long an address that was looked up is used without asking again; 0: it is not
	NoContact string     // what is shown of a unit that the card has no contact with
}

// PortMode is how the network port is set; what a memory from before there was such a
// setting says is auto.
func (l *LinkSettings) PortMode() LinkMode {
	if l.Mode == "" {
		return LinkAuto
	}
	return l.Mode
}

// Allow lets a network use a service.
type Allow struct {
	Name    string
	Service string // "snmp", "ssh" or "all"
	Network netip.Prefix
}

// defaultLinks are those of a new card.
var defaultLinks = LinkSettings{WithoutLease: LeaseWait, V6Mode: V6Off, Mode: LinkAuto, SSH: SSHModern, NoContact: ContactFrozen}

// Link is s.Links, or the default. It is only read.
func (s *Settings) Link() *LinkSettings {
	if s.Links == nil {
		return &defaultLinks
	}
	return s.Links
}

// ChangeLinks lets f change the link settings of s, which is not shared. If f
// refuses, they stay as they are.
func (s *Settings) ChangeLinks(f func(*LinkSettings) error) error {
	l := *s.Link()
	l.Allow = slices.Clone(l.Allow)
	if err := f(&l); err != nil {
		return err
	}
	if len(l.Allow) == 0 {
		l.Allow = nil
	}
	if s.Links = &l; reflect.DeepEqual(l, defaultLinks) {
		s.Links = nil
	}
	return nil
}

// clone shares nothing with l.
func (l *LinkSettings) clone() *LinkSettings {
	if l == nil {
		return nil
	}
	c := *l
	c.Allow = slices.Clone(l.Allow)
	return &c
}

// LetsIn says whether a card lets addr use a service: by its access list s, or because q
// has it overlook that, which is acted.
func (q *Quirks) LetsIn(s *Settings, service string, addr netip.Addr) (in, acted bool) {
	if s.Allows(service, addr) {
		return true, false
	}
	acted = addr.Is6() && q.Of(QuirkListOfV4) != nil
	return acted, acted
}

// Allows says whether the access list lets addr use a service. Where no entry is
// about the service everybody may; one that is about IPv4 alone lets nobody in
// over IPv6.
func (s *Settings) Allows(service string, addr netip.Addr) bool {
	listed := false
	for _, a := range s.Link().Allow {
		if a.Service != service && a.Service != "all" {
			continue
		}
		if listed = true; a.Network.Contains(addr) {
			return true
		}
	}
	return !listed
}
