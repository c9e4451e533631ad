package fleet

import (
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/wire"
)

// link is the device's link as it carries now, nil if perfectly.
func (u *unit) link() *snap.Carriage {
	c := u.view().Net.Link
	if c != nil && u.odds().wire == nil {
		u.odd.wire = wire.New(u.member.Seed)
	}
	return c
}

// passes says whether a packet of that kind gets over the device's link, and how late it
// is then. Of what is lost the engine is told a second later.
func (u *unit) passes(kind string, in bool) (late time.Duration, ok bool) {
	c := u.link()
	if c == nil {
		return 0, true
	}
	w := u.odd.wire
	if late, ok = w.Passes(c, u.shard.fleet.elapsed(), kind, in); !ok && w.First() {
		u.shard.later(time.Second, func() {
			for _, c := range w.Take() {
				u.Submit(c)
			}
		})
	}
	return late, ok
}

// send has a datagram leave over the device's link that is so late on it. It keeps a copy.
func (u *unit) send(datagram []byte, late time.Duration, write func([]byte)) {
	if late <= 0 {
		write(datagram)
		return
	}
	own := append([]byte(nil), datagram...)
	u.shard.later(late, func() { write(own) })
}
