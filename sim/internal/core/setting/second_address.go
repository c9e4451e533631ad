package setting

import (
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

// secondAddress is a further address of the card.
func secondAddress() *Setting {
	return address("reach.second-address", "second address",
		"A further IPv4 address of the card, in the network of the first. The card answers there too, and notifications can leave from it (alerts.receivers.*.source). With dhcp the card has it as long as its lease is of that network; one that another machine has is not used.",
		true, ParseAddr, linkOf(func(l *snap.LinkSettings) *netip.Addr { return &l.Second }))
}

// secondHolds: beside a fixed address the second is another one of its network.
func secondHolds(s *snap.Settings) error {
	second := s.Link().Second
	if !second.IsValid() || s.Mode != snap.AddressFixed || !s.Fixed.IsValid() {
		return nil
	}
	switch {
	case second == s.Fixed.Addr(), second == s.Gateway:
		return fmt.Errorf("reach.second-address: %s is the card's address or its gateway: type another one of %s, or none", second, s.Fixed.Masked())
	case !s.Fixed.Contains(second):
		return fmt.Errorf("reach.second-address: %s is not in the network of the card's address, %s: type one that is, or none", second, s.Fixed.Masked())
	}
	if err := checkEnds(s.Fixed, second); err != nil {
		return fmt.Errorf("reach.second-address: %w", err)
	}
	return nil
}
