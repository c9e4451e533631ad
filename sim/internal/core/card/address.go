package card

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// askEvery is how long the card waits between two requests for a lease: common
// practice.
const askEvery = 10 * vtime.Second

// addressing is how the card comes to its address, and the site's address
// server that answers it.
type addressing struct {
	net    plan.Network
	note   device.Note
	serves bool       // the address server answers
	late   vtime.Tick // when it begins to; Never: no such change is planned
	askAt  vtime.Tick // next request; Never: none is needed
	now    snap.Address
	noLink bool // the network lead is out
	since  vtime.Tick
}

func newAddressing(net plan.Network, note device.Note) addressing {
	a := addressing{net: net, note: note, serves: net.DHCP == "present", late: vtime.Never, askAt: vtime.Never}
	if net.DHCP == "late" {
		a.late = net.Late
	}
	return a
}

func (a *addressing) lose() {
	a.now = snap.Address{}
	a.askAt = vtime.Never
}

func (a *addressing) begin(now vtime.Tick, s snap.Settings) {
	if a.noLink {
		a.now = snap.Address{State: "no-link"}
		return
	}
	if s.Mode == snap.AddressFixed {
		a.now = snap.Address{State: "fixed", Prefix: s.Fixed, Gateway: s.Gateway}
		a.note("card", "address "+s.Fixed.String()+" (fixed)")
		return
	}
	a.now = snap.Address{State: "searching"}
	a.askAt = now
}

// serve has the address server come or go.
func (a *addressing) serve(on bool) {
	a.serves, a.late = on, vtime.Never
}

func (a *addressing) deadline() vtime.Tick { return min(a.askAt, a.late) }

func (a *addressing) due(now vtime.Tick) {
	if a.late <= now {
		a.serve(true)
	}
	if a.askAt > now {
		return
	}
	if !a.serves {
		a.askAt = now + askEvery
		return
	}
	a.askAt = vtime.Never
	a.now = snap.Address{State: "leased", Prefix: a.net.Offer, Gateway: a.net.Gateway}
	a.note("card", "address "+a.net.Offer.String()+" (leased)")
}
