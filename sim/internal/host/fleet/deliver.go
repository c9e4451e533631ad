package fleet

import (
	"net/netip"

	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/ports"
)

// caller is who sent the request that a shard is at.
type caller struct {
	unit *unit
	from netip.AddrPort
}

// String is the caller's address.
func (c *caller) String() string { return c.from.String() }

// Wait has nothing to do: a write does not wait here.
func (c *caller) Wait() {}

// letter is a reply that quirks keep from leaving at once.
type letter struct {
	text []byte
	to   netip.AddrPort
	how  snmp.Delivery
}

// deliver lets a reply leave as how says. It keeps a copy.
func (s *shard) deliver(u *unit, reply []byte, to netip.AddrPort, how snmp.Delivery) {
	l := &letter{text: append([]byte(nil), reply...), to: to, how: how}
	if how.After > 0 {
		s.later(how.After, func() { s.due(u, l) })
		return
	}
	s.due(u, l)
}

// due is called when a reply is ready. One that lets the next go first waits for
// that; at most one does.
func (s *shard) due(u *unit, l *letter) {
	before := u.odds().held
	u.odd.held = nil
	if before == nil && l.how.Hold > 0 {
		u.odd.held = l
		s.later(l.how.Hold, func() { s.release(u, l) })
		return
	}
	u.write(l)
	if before != nil {
		u.write(before)
	}
}

// release sends a reply that waited for a next one in vain.
func (s *shard) release(u *unit, l *letter) {
	if u.odd.held == l {
		u.odd.held = nil
		u.write(l)
	}
}

func (u *unit) write(l *letter) {
	from := u.socket
	if l.how.Elsewhere {
		if other, err := ports.Beside(u.at); err == nil {
			defer other.Close()
			from = other
		}
	}
	from.Write(l.text, l.to)
	if l.how.Twice {
		from.Write(l.text, l.to)
	}
}
