package card

import (
	"encoding/binary"
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Times of a client: RFC 2131 sections 4.1 (4 s, doubled up to 64 s, each up to a
// second more or less), 3.1 (10 s after a decline) and 4.4.5 (no less than a minute
// between two requests for more); RFC 5227 section 1.1 (a minute between two
// looks whether an address is still another's).
const (
	firstRetry   = 4 * vtime.Second
	lastRetry    = 64 * vtime.Second
	jitter       = vtime.Second
	afterDecline = 10 * vtime.Second
	renewEvery   = vtime.Minute
	lookAgain    = vtime.Minute
)

// addressing is how the card comes to its address, and the site's address server
// that answers it.
type addressing struct {
	of       *Card
	net      *plan.Network
	offer    netip.Prefix // what the address server keeps for the card
	taken    []netip.Addr // by other machines
	cutOff   bool         // a switch on the way to the server is dead
	serves   bool         // the address server answers
	noLink   bool         // the port has no link
	router   bool         // there is one, for IPv6
	renewals int32
	throws   int32      // of the dice so far
	loss     uint16     // of messages on the link, in parts of 65536; the last is all
	lost     [2]uint8   // of those out of the card and into it, until they are taken
	late     vtime.Tick // when it begins to; Never: no such change is planned

	real  *inquiry       // of real address servers; nil: the site's is asked
	set   *snap.Settings // in force; notBegun before the first start
	last  *KeptLease     // from before
	askAt vtime.Tick     // next request; Never: none is needed
	wait  vtime.Tick     // until the one after that
	now   snap.Address
	since vtime.Tick
	told  netip.Prefix
}

// KeptLease is a lease as the card remembers it.
type KeptLease struct {
	Address netip.Prefix `json:"address"`
	Gateway netip.Addr   `json:"gateway"`
	Until   snap.Stamp   `json:"until"` // by the card's clock
}

// notBegun stands for settings before there are any in force.
var notBegun snap.Settings

func (c *Card) newAddressing(net *plan.Network) addressing {
	a := addressing{
		of: c, net: net, offer: net.Offer, serves: net.DHCP == "present", late: vtime.Never, askAt: vtime.Never,
		taken: net.Taken, router: true, set: &notBegun,
	}
	if c.cfg.Offer.IsValid() {
		a.offer = c.cfg.Offer
	}
	if net.DHCP == "late" {
		a.late = net.Late
	}
	if net.Real {
		a.real = new(inquiry)
	}
	return a
}

// dice is a throw after the other of its own.
func (a *addressing) dice() uint64 {
	a.throws++
	key := rng.Key(a.of.seed, fmt.Sprintf("dhcp/%s/%d", a.of.cfg.Identity.SerialNumber, a.throws))
	return binary.BigEndian.Uint64(key[:])
}

func (a *addressing) note(subject, text string) { a.of.note(subject, text) }

// tell puts a line into the card's journal.
func (a *addressing) tell(now vtime.Tick, text string) { a.of.journal.add(now, text) }

// keep puts a lease into the card's memory; nil forgets it.
func (a *addressing) keep(l *KeptLease) {
	a.of.kept.Lease = l
	a.of.changed(&a.of.kept.Lease)
}

func (a *addressing) lose() {
	a.now = snap.Address{}
	a.askAt = vtime.Never
	if a.real != nil {
		a.real.stop()
	}
}

// begin is what a client does when it starts or when its port has a link again.
func (a *addressing) begin(now vtime.Tick, s *snap.Settings, stamp snap.Stamp, last *KeptLease) {
	a.set, a.last = s, last
	if last != nil && !a.told.IsValid() {
		a.told = last.Address
	}
	if a.noLink {
		a.now = snap.Address{State: "no-link"}
		return
	}
	a.now, a.wait = snap.Address{}, 0
	if s.Mode == snap.AddressFixed {
		a.fix(now)
	} else {
		a.reboot(now, stamp)
	}
	a.six()
}

// fix takes the address as set, unless another machine has it.
func (a *addressing) fix(now vtime.Tick) {
	if a.has(a.set.Fixed.Addr()) {
		a.conflict(now, a.set.Fixed.Addr())
		return
	}
	a.now.State, a.now.Prefix, a.now.Gateway, a.now.DNS = "fixed", a.set.Fixed, a.set.Gateway, a.set.Link().DNS
	a.note("card", "address "+a.set.Fixed.String()+" (fixed)")
	a.announce(now, a.set.Fixed)
}

// has says whether another machine has an address.
func (a *addressing) has(addr netip.Addr) bool {
	return slices.Contains(a.taken, addr) || a.of.elsewhere != nil && a.of.elsewhere(addr)
}

// Beside has the card find the addresses of other cards on its network taken, as has tells.
func (c *Card) Beside(has func(netip.Addr) bool) { c.elsewhere = has }

// conflict gives up an address that another machine has, and looks again later.
func (a *addressing) conflict(now vtime.Tick, addr netip.Addr) {
	if a.now.State != snap.AddressDuplicate {
		a.note("card", "another machine has "+addr.String())
		a.tell(now, "another machine has the address "+addr.String()+": it is not used")
	}
	a.now.State, a.now.Prefix, a.now.Gateway, a.now.Lease = snap.AddressDuplicate, netip.Prefix{}, netip.Addr{}, snap.Lease{}
	a.askAt = now + lookAgain
}

// reboot asks for the lease from before, if there is one (RFC 2131 section 3.2).
// What to do while nobody answers is set.
func (a *addressing) reboot(now vtime.Tick, stamp snap.Stamp) {
	a.search(now)
	if !a.answers() && a.real == nil {
		a.makeDo(now, stamp)
	}
}

// makeDo is what to do while no server answers, as set.
func (a *addressing) makeDo(now vtime.Tick, stamp snap.Stamp) {
	switch l := a.last; {
	case a.now.Prefix.IsValid():
	case a.set.Link().WithoutLease == snap.LeaseLinkLocal:
		a.takeLinkLocal(now)
	case a.set.Link().WithoutLease == snap.LeaseLast && l != nil && l.Until > stamp && !a.has(l.Address.Addr()):
		a.now.State, a.now.Prefix, a.now.Gateway = "last-lease", l.Address, l.Gateway
		a.now.Lease = snap.Lease{Renew: vtime.Never, Rebind: vtime.Never, Until: now + vtime.Tick(l.Until-stamp)}
		a.note("card", "address "+l.Address.String()+" (last lease, not confirmed)")
		a.announce(now, l.Address)
	}
}

// search has the card ask for a lease from now on.
func (a *addressing) search(now vtime.Tick) {
	a.now.State, a.now.Prefix, a.now.Gateway, a.now.Lease = "searching", netip.Prefix{}, netip.Addr{}, snap.Lease{}
	a.askAt, a.wait = now, 0
	if a.real != nil {
		a.real.stop() // and whether nobody answers has to be seen
	} else if a.set.Link().WithoutLease == snap.LeaseLinkLocal && !a.answers() {
		a.takeLinkLocal(now)
	}
}

func (a *addressing) takeLinkLocal(now vtime.Tick) {
	a.now.State, a.now.Prefix = "link-local", linkLocal(a.dice())
	a.note("card", "address "+a.now.Prefix.String()+" (link-local)")
	a.announce(now, a.now.Prefix)
}

// linkLocal is an address of RFC 3927 section 2.1: not of the first or last 256.
func linkLocal(draw uint64) netip.Prefix {
	return netip.PrefixFrom(netip.AddrFrom4([4]byte{169, 254, byte(1 + (draw>>8)%254), byte(draw)}), 16)
}

// answers says whether the address server would answer now.
func (a *addressing) answers() bool { return a.serves && !a.cutOff }

// Messages that a client and a server exchange, its own first (RFC 2131 section 3).
const (
	messagesOfLease   = 4
	messagesOfRenewal = 2
)

// loses says whether one of so many messages is lost on the link.
func (a *addressing) loses(messages int) bool {
	for i := 0; a.loss > 0 && i < messages; i++ {
		if a.dice()%(1<<16-1) < uint64(a.loss) {
			a.lost[i%2]++
			a.note("card", "a message about the lease is lost on the link")
			return true
		}
	}
	return false
}

// serve has the address server come or go.
func (a *addressing) serve(on bool) {
	a.serves, a.late = on, vtime.Never
}

func (a *addressing) deadline() vtime.Tick {
	next := min(a.askAt, a.late)
	if l := a.now.Lease; l.Until != 0 {
		next = min(next, l.Until)
	}
	return next
}

func (a *addressing) due(now vtime.Tick, stamp snap.Stamp) {
	if a.late <= now {
		a.serve(true)
	}
	if l := a.now.Lease; l.Until != 0 && l.Until <= now {
		a.expire(now)
	}
	if a.askAt > now {
		return
	}
	switch {
	case a.set.Mode == snap.AddressFixed:
		a.askAt = vtime.Never
		a.fix(now)
	case a.now.State == "leased":
		a.renew(now, stamp)
	default:
		a.ask(now, stamp)
	}
}

// expire gives up an address whose lease is over.
func (a *addressing) expire(now vtime.Tick) {
	a.ends(now, "lease of "+a.now.Prefix.Addr().String()+" expired")
}

// ends tells why there is no lease any more, and searches anew.
func (a *addressing) ends(now vtime.Tick, why string) {
	a.note("card", why)
	a.tell(now, why)
	a.anew(now)
}

// anew forgets the lease and searches for another.
func (a *addressing) anew(now vtime.Tick) {
	a.keep(nil)
	a.last = nil
	a.search(now)
}

// ask is one request for a lease, and what comes of it.
func (a *addressing) ask(now vtime.Tick, stamp snap.Stamp) {
	if a.real != nil {
		a.inquire(now, stamp)
		return
	}
	if !a.answers() || a.loses(messagesOfLease) {
		a.askAt = now + a.backOff()
		return
	}
	if addr := a.offer.Addr(); a.has(addr) { // RFC 2131 section 4.4.1: probe, and decline
		a.note("card", "declines "+addr.String()+": another machine has it")
		a.tell(now, "another machine has the offered address "+addr.String()+": declined")
		a.offer = netip.PrefixFrom(addr.Next(), a.offer.Bits()) // the server offers the next one
		a.now.State, a.now.Prefix = "searching", netip.Prefix{}
		a.askAt, a.wait = now+afterDecline, 0
		return
	}
	if a.last != nil && a.last.Address != a.offer {
		a.note("card", "the address server refuses "+a.last.Address.Addr().String())
	}
	a.now.State, a.now.Prefix, a.now.Gateway = "leased", a.offer, a.net.Gateway
	a.now.DNS = [2]netip.Addr{}
	copy(a.now.DNS[:], a.net.DNS)
	a.note("card", "address "+a.offer.String()+" (leased)")
	a.announce(now, a.offer)
	a.granted(now, stamp)
}

// granted starts the times of a lease anew.
func (a *addressing) granted(now vtime.Tick, stamp snap.Stamp) {
	t := a.net.Lease
	if a.askAt = vtime.Never; t <= 0 {
		return // it lasts for ever
	}
	a.hold(now, stamp, snap.Lease{Server: a.net.Gateway, Renew: now + t/2, Rebind: now + t*7/8, Until: now + t})
}

// hold has the card use its address for as long as l says, and remember that. One
// that ends when it begins lasts for ever.
func (a *addressing) hold(now vtime.Tick, stamp snap.Stamp, l snap.Lease) {
	if a.now.Lease, a.askAt = (snap.Lease{}), vtime.Never; l.Until == now {
		return
	}
	a.now.Lease, a.askAt = l, l.Renew
	a.last = &KeptLease{Address: a.now.Prefix, Gateway: a.now.Gateway, Until: stamp + snap.Stamp(l.Until-now)}
	a.keep(a.last)
}

// renew asks for more of the lease. A server that has another address for the card
// refuses (DHCPNAK), and the card asks anew.
func (a *addressing) renew(now vtime.Tick, stamp snap.Stamp) {
	a.renewals++
	switch {
	case a.real != nil:
		a.askMore(now)
	case !a.answers() || a.loses(messagesOfRenewal):
		a.overdue(now)
		a.askAt = a.nextMore(now)
	case a.now.Prefix != a.offer:
		text := "the address server takes " + a.now.Prefix.Addr().String() + " back"
		a.note("card", text)
		a.tell(now, text)
		a.search(now)
	default:
		a.granted(now, stamp)
	}
}

// overdue counts a request for more that nobody has answered.
func (a *addressing) overdue(now vtime.Tick) {
	l := &a.now.Lease
	if l.Overdue++; l.Overdue == 1 {
		a.tell(now, "the address server does not answer: the lease ends in "+(l.Until-now).Duration().String())
	}
}

// nextMore is when more of the lease is asked for again: after half of what is left.
func (a *addressing) nextMore(now vtime.Tick) vtime.Tick {
	l := &a.now.Lease
	until := l.Rebind
	if now >= l.Rebind {
		until = l.Until
	}
	return min(now+max(renewEvery, (until-now)/2), max(until, now+1), l.Until)
}

// backOff is the time to the next request.
func (a *addressing) backOff() vtime.Tick {
	if a.wait = min(2*a.wait, lastRetry); a.wait == 0 {
		a.wait = firstRetry
	}
	return a.wait + vtime.Tick(a.dice()%uint64(2*jitter+1)) - jitter
}

// announce tells of an address that is not the one from before, also in an earlier
// session.
func (a *addressing) announce(now vtime.Tick, p netip.Prefix) {
	if a.told.IsValid() && a.told != p {
		text := fmt.Sprintf("from %s to %s", a.told.Addr(), p.Addr())
		a.tell(now, "address changed "+text)
		a.of.Hear(snap.EventAddress, 0, true, text)
	}
	a.told = p
}

// claim has another machine take an address, also the card's own (RFC 5227 section
// 2.4: the card gives it up).
func (a *addressing) claim(now vtime.Tick, addr netip.Addr) {
	if !slices.Contains(a.taken, addr) {
		a.taken = append(slices.Clone(a.taken), addr)
	}
	switch {
	case a.now.Prefix.IsValid() && a.now.Prefix.Addr() == addr && a.set.Mode == snap.AddressFixed:
		a.conflict(now, addr)
	case a.now.Prefix.IsValid() && a.now.Prefix.Addr() == addr:
		text := "another machine has " + addr.String() + ": declined"
		a.note("card", text)
		a.tell(now, text)
		a.give(now, snap.LeaseQuery{Step: snap.LeaseDecline, Address: addr, Server: a.now.Lease.Server})
	}
	a.six()
}

func (a *addressing) release(addr netip.Addr) {
	a.taken = slices.DeleteFunc(slices.Clone(a.taken), func(x netip.Addr) bool { return x == addr })
	a.six()
}
