package card

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// How often a client tries before it goes back to the beginning. RFC 2131 section
// 3.1 (5.) has four times for a request as an example; the other is ours.
const (
	triesOfRequest = 4
	triesOfReboot  = 2
)

// inquiry is what the card has to do with real address servers.
type inquiry struct {
	round int
	step  snap.LeaseStep // an answer to which is awaited; "": none
	tries int            // at this step
	since vtime.Tick     // the card began to ask
	offer snap.LeaseReply
	out   []snap.LeaseQuery // that have to be sent
}

// LeaseQueries hands over what has to be sent since the last call.
func (c *Card) LeaseQueries() []snap.LeaseQuery {
	x := c.address.real
	if x == nil || x.out == nil {
		return nil
	}
	out := x.out
	x.out = nil
	return out
}

// LeaseReply takes what a server said. What was not asked for, or comes too late,
// is nothing.
func (c *Card) LeaseReply(now vtime.Tick, r *snap.LeaseReply) {
	a := &c.address
	x := a.real
	if x == nil || !c.Running() || a.noLink || a.set.Mode == snap.AddressFixed || r.Round != x.round || x.step == "" {
		return
	}
	discovers := x.step == snap.LeaseDiscover
	switch {
	case r.Kind == snap.LeaseOffer && discovers:
		a.offered(now, r)
	case r.Kind == snap.LeaseAck && !discovers:
		a.acknowledged(now, c.clock.Stamp(now), r)
	case r.Kind == snap.LeaseNak && !discovers:
		a.denied(now)
	}
}

// stop has nobody wait for an answer.
func (x *inquiry) stop() { x.step, x.tries, x.out = "", 0, nil }

// send has a message leave.
func (a *addressing) send(now vtime.Tick, q snap.LeaseQuery) {
	x := a.real
	q.Round, q.Waited = x.round, now-x.since
	x.out = append(x.out, q)
}

// inquire is a message to real servers while the card has no lease.
func (a *addressing) inquire(now vtime.Tick, stamp snap.Stamp) {
	x := a.real
	again := x.step != ""
	if !again {
		x.since = now
	}
	if again && x.tries > 0 {
		a.makeDo(now, stamp)
	}
	x.tries++
	q := snap.LeaseQuery{Step: snap.LeaseDiscover}
	switch {
	case x.step == snap.LeaseRequest && x.tries <= triesOfRequest:
		q = snap.LeaseQuery{Step: snap.LeaseRequest, Address: x.offer.Address.Addr(), Server: x.offer.Server}
	case a.last != nil && a.last.Until > stamp && x.step != snap.LeaseDiscover && x.step != snap.LeaseRequest && x.tries <= triesOfReboot:
		q = snap.LeaseQuery{Step: snap.LeaseReboot, Address: a.last.Address.Addr()}
	}
	if q.Step != snap.LeaseRequest {
		x.round++
	}
	x.step = q.Step
	a.send(now, q)
	a.askAt = now + a.backOff()
}

// offered takes up the first offer.
func (a *addressing) offered(now vtime.Tick, r *snap.LeaseReply) {
	if why := r.Wrong(); why != "" {
		a.tell(now, "what an address server offers makes no sense: "+why)
		return
	}
	x := a.real
	x.offer, x.step, x.tries = *r, snap.LeaseRequest, 1
	a.wait = 0
	a.send(now, snap.LeaseQuery{Step: snap.LeaseRequest, Address: r.Address.Addr(), Server: r.Server})
	a.askAt = now + a.backOff()
}

// acknowledged takes the lease, unless another machine has the address (RFC 2131
// section 4.4.1).
func (a *addressing) acknowledged(now vtime.Tick, stamp snap.Stamp, r *snap.LeaseReply) {
	if why := r.Wrong(); why != "" {
		a.tell(now, "what an address server says makes no sense: "+why)
		return
	}
	addr := r.Address.Addr()
	if a.has(addr) {
		a.note("card", "declines "+addr.String()+": another machine has it")
		a.tell(now, "another machine has the offered address "+addr.String()+": declined")
		a.give(now, snap.LeaseQuery{Step: snap.LeaseDecline, Address: addr, Server: r.Server})
		return
	}
	fresh := a.now.State != "leased" || a.now.Prefix != r.Address
	a.now.State, a.now.Prefix, a.now.Gateway, a.now.DNS = "leased", r.Address, r.Gateway, r.DNS
	if fresh {
		a.note("card", "address "+r.Address.String()+" (leased)")
		a.announce(now, r.Address)
	}
	a.real.step, a.real.tries = "", 0
	renew, rebind := r.Times()
	a.hold(now, stamp, snap.Lease{Server: r.Server, Renew: now + renew, Rebind: now + rebind, Until: now + r.Lasts})
}

// give gives an address back as another's, and begins anew after a while.
func (a *addressing) give(now vtime.Tick, q snap.LeaseQuery) {
	a.anew(now)
	if a.real != nil {
		a.send(now, q)
	}
	a.askAt = now + afterDecline
}

// denied is a DHCPNAK: the address is not for this card (any more).
func (a *addressing) denied(now vtime.Tick) {
	text := "the address server refuses the lease"
	if a.now.State == "leased" {
		text = "the address server takes " + a.now.Prefix.Addr().String() + " back"
	}
	a.ends(now, text)
}

// askMore asks real servers for more of the lease.
func (a *addressing) askMore(now vtime.Tick) {
	x, l := a.real, &a.now.Lease
	q := snap.LeaseQuery{Step: snap.LeaseRenew, Address: a.now.Prefix.Addr(), Server: l.Server}
	if now >= l.Rebind {
		q.Step, q.Server = snap.LeaseRebind, netip.Addr{}
	}
	if x.step == "" {
		x.since = now
	} else {
		a.overdue(now)
	}
	x.round++
	x.step = q.Step
	a.send(now, q)
	a.askAt = a.nextMore(now)
}
