package fleet

import (
	"fmt"
	"net/netip"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/host/pace"
)

// Group is the devices of one scenario. Their numbers begin at First.
type Group struct {
	Plan         *plan.Plan
	First, Count int
	// Member is what device n has of its own, by its number. It may be called from
	// several goroutines at once.
	Member func(n int) *plan.Member
	Inject engine.Injector
	// Compile reads the conditions that the bench waits for; nil: it may not.
	Compile engine.Compiler
}

// Config is a fleet.
type Config struct {
	Groups []Group
	Clock  *pace.Clock
	// First is the address of device 1. Device n has the n-th address from there and
	// the same port, or with Ports the same address and the n-th port; port 0 is a
	// free one, for all the same or for each another.
	First     netip.AddrPort
	Ports     bool
	Keep      bool                              // go on after the end of every run until interrupted
	Receivers map[netip.AddrPort]netip.AddrPort // simulated address to endpoint
	Shards    int                               // goroutines, 1 or more
	Log       func(string)                      // talk, one line each; safe for concurrent use
}

// BindError is an address that could not be bound.
type BindError struct {
	Address netip.AddrPort
	Err     error
}

// Error is one line.
func (e *BindError) Error() string { return fmt.Sprintf("cannot bind %v: %v", e.Address, e.Err) }

// Unwrap is the cause.
func (e *BindError) Unwrap() error { return e.Err }

// Devices is how many there are.
func (c *Config) Devices() int {
	n := 0
	for i := range c.Groups {
		n += c.Groups[i].Count
	}
	return n
}

// address is that of device n, counted from 0, where port is the one that all
// have in common.
func (c *Config) address(n int, port uint16) netip.AddrPort {
	if !c.Ports {
		return netip.AddrPortFrom(plus(c.First.Addr(), n), port)
	}
	if c.First.Port() == 0 {
		return c.First
	}
	return netip.AddrPortFrom(c.First.Addr(), c.First.Port()+uint16(n))
}

// plus is the n-th address behind a.
func plus(a netip.Addr, n int) netip.Addr {
	b := a.As4()
	v := uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
	v += uint32(n)
	return netip.AddrFrom4([4]byte{byte(v >> 24), byte(v >> 16), byte(v >> 8), byte(v)})
}

// Check says what is wrong with the addresses, "" if nothing is. All of them have
// to be loopback addresses unless exposed says that others are meant.
func (c *Config) Check(exposed bool) string {
	n := c.Devices()
	switch {
	case !c.First.Addr().Is4():
		return fmt.Sprintf("%v: a fleet has addresses of IPv4", c.First)
	case c.Ports && c.First.Port() != 0 && int(c.First.Port())+n-1 > 65535:
		return fmt.Sprintf("%v: there are no %d ports from there to 65535", c.First, n)
	case c.Ports && n > 65535-1024:
		return fmt.Sprintf("one address has no ports for %d devices: give each an address", n)
	}
	last := plus(c.First.Addr(), n-1)
	if !c.Ports && (last.Less(c.First.Addr()) || !exposed && !last.Next().IsLoopback()) {
		return fmt.Sprintf("%v: there are no %d addresses from there on; 127.0.0.1 has room", c.First, n)
	}
	return ""
}

// Outcome is what one device came to.
type Outcome struct {
	Group, Number int
	report.Outcome
}
