package setting

import (
	"fmt"
	"net/netip"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

func init() { together = append(together, sourcesFit) }

// receiverSource is which of the card's addresses notifications leave from.
func receiverSource(at func(*snap.Settings, int) *netip.Addr) *Setting {
	const takes = "auto, or one of the card's own addresses such as 192.0.2.10"
	return unique(&Setting{
		Path: "source", Label: "source address",
		Help:  "The card's own address that they leave from. auto: the one of the receiver's family. One that is named binds them to it: while the card does not have it, after another lease say, nothing leaves for this receiver, so that no message comes from an address that the receiver does not know the card by.",
		Takes: takes,
		get: func(s *snap.Settings, i int) string {
			if a := *at(s, i); a.IsValid() {
				return a.String()
			}
			return "auto"
		},
		set: func(s *snap.Settings, i int, v string) error {
			if strings.ToLower(v) == "auto" {
				*at(s, i) = netip.Addr{}
				return nil
			}
			a, err := netip.ParseAddr(v)
			if err != nil || a.Zone() != "" || a.Is4In6() || a.IsUnspecified() || a.IsMulticast() {
				return fmt.Errorf("%q: expected %s", v, takes)
			}
			*at(s, i) = a
			return nil
		},
	})
}

// sourcesFit refuses a source that no message to its receiver can have, and one that the
// card cannot come to by these settings.
func sourcesFit(s *snap.Settings) error {
	for _, r := range s.Alerting().Receivers {
		if why := misfit(s, &r); r.Source.IsValid() && why != "" {
			return fmt.Errorf("alerts.receivers.%s.source: %v %s: type one that it has, or auto", r.Name, r.Source, why)
		}
	}
	return nil
}

func misfit(s *snap.Settings, r *snap.Receiver) string {
	l := s.Link()
	switch four := r.Source.Is4(); {
	case r.To.IsValid() && r.To.Addr().Unmap().Is4() != four:
		return fmt.Sprintf("cannot send to %v, which is of the other family", r.To.Addr())
	case four && s.Mode == snap.AddressFixed && s.Fixed.Addr() != r.Source && l.Second != r.Source:
		return fmt.Sprintf("is not the card's: its IPv4 address is set to %v, its second one to %s", s.Fixed.Addr(), OrNone(l.Second))
	case !four && l.V6Mode == snap.V6Off:
		return "is not the card's: IPv6 is off (reach.ipv6)"
	case !four && l.V6Mode == snap.V6Fixed && l.V6Address.Addr() != r.Source:
		return fmt.Sprintf("is not the card's: its IPv6 address is set to %v", OrNone(l.V6Address.Addr()))
	}
	return ""
}
