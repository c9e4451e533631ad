package snap

import (
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// OpLease brings what a real address server said, in Lease.
const OpLease Op = "lease"

// LeaseStep is a message of a client for addresses (RFC 2131 section 4.3).
type LeaseStep string

// Messages to a server. Request, renew, rebind and reboot are all DHCPREQUEST; they
// differ in what stands in it, and in where it goes (RFC 2131 table 4).
const (
	LeaseDiscover LeaseStep = "discover"
	LeaseRequest  LeaseStep = "request" // the address that a server has offered
	LeaseReboot   LeaseStep = "reboot"  // the address from before
	LeaseRenew    LeaseStep = "renew"   // more of the lease, of the server that gave it
	LeaseRebind   LeaseStep = "rebind"  // more of the lease, of any server
	LeaseDecline  LeaseStep = "decline" // another machine has the address
)

// LeaseQuery is one message to address servers. The host sends it once; whether
// it is sent again the card decides.
type LeaseQuery struct {
	Step    LeaseStep
	Round   int        // comes back with the reply; a request has that of its discover
	Address netip.Addr // that is asked for or declined; of discover none
	Server  netip.Addr // that it is meant for; of discover, reboot and rebind none
	Waited  vtime.Tick // since the card began to ask
}

// Answers of a server.
const (
	LeaseOffer = "offer"
	LeaseAck   = "ack"
	LeaseNak   = "nak"
)

// LeaseReply is what a server says in answer to a [LeaseQuery].
type LeaseReply struct {
	Kind    string        `json:"kind"`
	Round   int           `json:"round"`
	Server  netip.Addr    `json:"server"`
	Address netip.Prefix  `json:"address"` // with the mask that goes with it
	Gateway netip.Addr    `json:"gateway"` // may be invalid: none was told
	DNS     [2]netip.Addr `json:"dns"`
	Lasts   vtime.Tick    `json:"lasts"` // 0: for ever
	Renew   vtime.Tick    `json:"renew"` // 0: the server leaves it to the client
	Rebind  vtime.Tick    `json:"rebind"`
}

// longestLease is what a lease may last: RFC 2131 counts seconds in 32 bits.
const longestLease = vtime.Tick(1<<32-1) * vtime.Second

// Wrong says why no card could live with the lease in r, "" if it could.
func (r *LeaseReply) Wrong() string {
	if why := WrongHost(r.Address); why != "" {
		return why
	}
	switch {
	case r.Address.Addr().IsLoopback():
		return fmt.Sprintf("%s never leaves a machine", r.Address.Addr())
	case !r.Server.Is4() || r.Server.IsUnspecified():
		return "the server does not say who it is"
	case r.Gateway.IsValid() && (!r.Gateway.Is4() || r.Gateway == r.Address.Addr()):
		return fmt.Sprintf("gateway %s", r.Gateway)
	case r.Lasts < 0 || r.Lasts > longestLease:
		return "a lease of " + r.Lasts.Duration().String()
	}
	return ""
}

// WrongHost says why p is nothing that a card can have had of a server, "" if it is.
func WrongHost(p netip.Prefix) string {
	a := p.Addr()
	switch {
	case !p.IsValid() || !a.Is4():
		return "no IPv4 address with its mask"
	case a.IsUnspecified() || a.IsMulticast() || a.As4()[0] >= 240 || a.As4()[0] == 0:
		return fmt.Sprintf("%s is no address of a machine", a)
	case p.Bits() == 0:
		return fmt.Sprintf("%s without a mask", a)
	}
	return ""
}

// Times are those of the lease: r's, or where they make no sense those of RFC 2131
// section 4.4.5, a half and seven eighths.
func (r *LeaseReply) Times() (renew, rebind vtime.Tick) {
	renew, rebind = r.Renew, r.Rebind
	if renew <= 0 || renew >= r.Lasts {
		renew = r.Lasts / 2
	}
	if rebind <= renew || rebind >= r.Lasts {
		rebind = max(renew, r.Lasts/8*7+r.Lasts%8*7/8)
	}
	return renew, rebind
}
