package lan

import (
	"math"
	"net"
	"net/netip"

	"github.com/insomniacslk/dhcp/dhcpv4"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// vendor is what the card says it is (RFC 2132 option 60), so that whoever reads a
// server's log knows.
const vendor = "ridethrough SIMULATION"

// Client is who asks.
type Client struct {
	Hardware net.HardwareAddr // of the card, as on its label
	Name     string           // its host name; empty: it says none
	First    uint32           // transaction number of round 0
}

// asks are the parameters that the card asks for (RFC 2132 option 55).
var asks = dhcpv4.WithRequestedOptions(dhcpv4.OptionSubnetMask, dhcpv4.OptionRouter, dhcpv4.OptionDomainNameServer,
	dhcpv4.OptionIPAddressLeaseTime, dhcpv4.OptionRenewTimeValue, dhcpv4.OptionRebindingTimeValue)

// message is q as it goes out (RFC 2131 table 5). Who has no address yet asks for a
// broadcast in answer: the interface may have another hardware address than the
// card.
func (c *Client) message(q snap.LeaseQuery) (*dhcpv4.DHCPv4, error) {
	held := q.Step == snap.LeaseRenew || q.Step == snap.LeaseRebind
	mods := []dhcpv4.Modifier{
		dhcpv4.WithTransactionID(transaction(c.First + uint32(q.Round))), dhcpv4.WithHwAddr(c.Hardware),
		dhcpv4.WithBroadcast(!held), dhcpv4.WithMessageType(kindOf(q.Step)),
	}
	if q.Step != snap.LeaseDecline {
		mods = append(mods, asks, dhcpv4.WithOption(dhcpv4.OptClassIdentifier(vendor)))
		if c.Name != "" {
			mods = append(mods, dhcpv4.WithOption(dhcpv4.OptHostName(c.Name)))
		}
	}
	switch {
	case held:
		mods = append(mods, dhcpv4.WithClientIP(q.Address.AsSlice()))
	case q.Address.IsValid():
		mods = append(mods, dhcpv4.WithOption(dhcpv4.OptRequestedIPAddress(q.Address.AsSlice())))
	}
	if q.Server.IsValid() && !held {
		mods = append(mods, dhcpv4.WithOption(dhcpv4.OptServerIdentifier(q.Server.AsSlice())))
	}
	m, err := dhcpv4.New(mods...)
	if err == nil {
		m.NumSeconds = uint16(min(max(q.Waited/vtime.Second, 0), math.MaxUint16))
	}
	return m, err
}

func kindOf(s snap.LeaseStep) dhcpv4.MessageType {
	switch s {
	case snap.LeaseDiscover:
		return dhcpv4.MessageTypeDiscover
	case snap.LeaseDecline:
		return dhcpv4.MessageTypeDecline
	}
	return dhcpv4.MessageTypeRequest
}

func transaction(n uint32) dhcpv4.TransactionID {
	return dhcpv4.TransactionID{byte(n >> 24), byte(n >> 16), byte(n >> 8), byte(n)}
}

// kinds are the answers that a client hears.
var kinds = map[dhcpv4.MessageType]string{
	dhcpv4.MessageTypeOffer: snap.LeaseOffer, dhcpv4.MessageTypeAck: snap.LeaseAck, dhcpv4.MessageTypeNak: snap.LeaseNak,
}

// reply is what text says to c; ok is false if it is no answer to it. Whether what
// it says makes sense the card finds out.
func (c *Client) reply(text []byte) (r snap.LeaseReply, ok bool) {
	m, err := dhcpv4.FromBytes(text)
	if err != nil || m.OpCode != dhcpv4.OpcodeBootReply || m.ClientHWAddr.String() != c.Hardware.String() {
		return r, false
	}
	id := m.TransactionID
	round := uint32(id[0])<<24 | uint32(id[1])<<16 | uint32(id[2])<<8 | uint32(id[3]) - c.First
	r.Kind = kinds[m.MessageType()]
	if r.Kind == "" || round > math.MaxInt32 {
		return r, false
	}
	r.Round, r.Server = int(round), addrOf(m.ServerIdentifier())
	if r.Kind == snap.LeaseNak {
		return r, true
	}
	r.Address = prefixOf(m)
	r.Gateway = firstOf(m.Router())
	for i, a := range m.DNS() {
		if i < len(r.DNS) {
			r.DNS[i] = addrOf(a)
		}
	}
	if r.Lasts = vtime.FromDuration(m.IPAddressLeaseTime(0)); r.Lasts == 0 {
		r.Lasts = -1 // it has to say (RFC 2131 table 3)
	} else if r.Lasts == forever {
		r.Lasts = 0
	}
	r.Renew, r.Rebind = vtime.FromDuration(m.IPAddressRenewalTime(0)), vtime.FromDuration(m.IPAddressRebindingTime(0))
	return r, true
}

// forever is a lease without an end (RFC 2131 section 3.3).
const forever = math.MaxUint32 * vtime.Second

func addrOf(ip net.IP) netip.Addr {
	a, _ := netip.AddrFromSlice(ip.To4())
	return a
}

func firstOf(list []net.IP) (a netip.Addr) {
	if len(list) > 0 {
		a = addrOf(list[0])
	}
	return a
}

// prefixOf is the address with its mask; without one with that of its class (RFC 950),
// and invalid with one that has holes.
func prefixOf(m *dhcpv4.DHCPv4) netip.Prefix {
	mask := m.SubnetMask()
	if mask == nil {
		mask = m.YourIPAddr.DefaultMask()
	}
	ones, bits := mask.Size()
	if bits != 32 {
		return netip.Prefix{}
	}
	return netip.PrefixFrom(addrOf(m.YourIPAddr), ones)
}
