package serve

import (
	"fmt"
	"net"
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

// source is the address that messages to r leave from, if the card is at addresses of this
// machine: the one that is set, or else the card's of the endpoint's family. It is not
// valid where this machine chooses.
func (s *sender) source(r *snap.Receiver, card *snap.Card) netip.Addr {
	if !s.own {
		return netip.Addr{}
	}
	if r.Source.IsValid() {
		return r.Source
	}
	to, err := netip.ParseAddrPort(s.endpoints[r.To])
	if err != nil {
		return netip.Addr{}
	}
	return card.Address.Own(to.Addr())
}

// agentAddr is what a message of SNMPv1 says that it comes from: the IPv4 address that it is
// set to leave from, or else the card's first one.
func agentAddr(source netip.Addr, card *snap.Card) netip.Addr {
	if source.Is4() {
		return source
	}
	return card.Address.Prefix.Addr()
}

// dial opens the way to a receiver. From an address that somebody has set nothing leaves from
// another one: there is no way then, which is said. Else this machine chooses.
func (s *sender) dial(r *snap.Receiver, from netip.Addr, endpoint string) (net.Conn, error) {
	d := net.Dialer{}
	if from.IsValid() {
		d.LocalAddr = net.UDPAddrFromAddrPort(netip.AddrPortFrom(from, 0))
	}
	conn, err := d.DialContext(s.context, "udp", endpoint)
	switch {
	case err == nil:
		return conn, nil
	case r.Source.IsValid() && from.IsValid():
		s.sayOnce(fmt.Sprintf("receiver %s: nothing is sent, because nothing can leave from %v: %v", r.To, from, err))
		return nil, nil
	case from.IsValid():
		s.sayOnce(fmt.Sprintf("receiver %s: nothing can leave from %v, this machine chooses another address: %v", r.To, from, err))
		return (&net.Dialer{}).DialContext(s.context, "udp", endpoint)
	}
	return nil, err
}

// sayOnce says what it has not said before.
func (s *sender) sayOnce(text string) {
	if s.said[text] {
		return
	}
	if len(s.said) >= mostSaid || s.said == nil {
		s.said = map[string]bool{}
	}
	s.said[text] = true
	s.log(text)
}

// mostSaid bounds what is remembered of that.
const mostSaid = 64
