package fleet

import (
	"crypto/rand"
	"encoding/binary"
	"net/netip"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/snmp"
	"ridethrough/sim/internal/host/ports"
	"ridethrough/sim/internal/host/wire"
)

// unit is one device. It belongs to its shard's goroutine; there it is the
// [snap.Source] of its agent.
type unit struct {
	shard  *shard
	group  *group
	number int32
	place  int32 // in the shard's queue; -1: it is in none
	engine *engine.Engine
	member *plan.Member
	next   vtime.Tick // the engine's next instant
	told   vtime.Tick // the latest tick that Now has told

	socket  ports.Socket
	at      netip.AddrPort
	agent   *snmp.Agent // nil until somebody asks, or it has something to tell
	request int32       // id of the last notification
	boots   uint32      // of its card, as the keeper knows them
	ticket  uint64      // of what the keeper may not have kept yet; 0: nothing
	posts   []*post     // one for each receiver of informs; nil until there was one
	odd     *odd        // nil while nothing is out of the ordinary

	outcome *report.Outcome // once its run has ended
}

// odd is what few devices have.
type odd struct {
	held *letter    // reply that lets the next go first
	wire *wire.Wire // nil until the card's link is not a perfect one
}

// odds is made when it is first needed.
func (u *unit) odds() *odd {
	if u.odd == nil {
		u.odd = new(odd)
	}
	return u.odd
}

// group is what the devices of one scenario have in common.
type group struct {
	*Group
	model   *engine.Engine
	targets []target
	runFor  vtime.Tick
}

// target is a receiver that has an endpoint.
type target struct {
	plan.Receiver
	number   uint8 // from 1, as the card counts it
	version  snmp.Version
	endpoint netip.AddrPort
}

// Device implements [snap.Source]: the engine's own view, which is good until the
// shard turns to another device.
func (u *unit) Device() *snap.Device { return u.view().Seen() }

// view shows the device in the shard's scratch.
func (u *unit) view() *snap.Site {
	u.engine.Use(&u.shard.scratch)
	return u.engine.View()
}

// Now implements [snap.Source]. It never goes back, nor beyond what the engine
// would have done by then.
func (u *unit) Now() vtime.Tick {
	now := u.shard.fleet.clock.Now()
	if u.outcome == nil {
		now = min(now, u.next)
	} else {
		now = u.engine.Now()
	}
	u.told = max(u.told, now, u.engine.Now())
	return u.told
}

// Submit implements [snap.Source]. It does not wait: the shard is the engine's
// own goroutine.
func (u *unit) Submit(c snap.Command) snap.Result {
	s := u.shard
	u.catchUp()
	if u.outcome != nil {
		return snap.Result{Status: snap.Gone, Reason: "the run has ended"}
	}
	u.engine.Use(&s.scratch)
	result, f := u.engine.Do(c)
	s.carryOut(u, f.Effects)
	s.plan(u)
	return result
}

// catchUp brings the engine to the clock, so that a command meets the site as it
// is; not past the end of the run.
func (u *unit) catchUp() {
	now := u.shard.fleet.clock.Now()
	if !u.shard.fleet.keep {
		now = min(now, u.group.runFor)
	}
	for u.outcome == nil && u.engine.Now() < now {
		u.step(now)
	}
}

// step moves the engine to its next instant, or to until if that is sooner.
func (u *unit) step(until vtime.Tick) {
	s := u.shard
	u.engine.Use(&s.scratch)
	f := u.engine.Step(until)
	s.carryOut(u, f.Effects)
	if len(s.vigils) > 0 {
		s.settle(u)
	}
	if u.engine.Ended() && !s.fleet.keep {
		s.end(u)
	}
}

// talker is the agent, made when it is first needed. Its salts begin anywhere, so
// that two sessions of the same card do not encrypt alike.
func (u *unit) talker() *snmp.Agent {
	u.kept()
	if u.agent == nil {
		var salt [8]byte
		rand.Read(salt[:]) // never fails
		u.agent = snmp.New(u, snmp.Config{
			Clock: u.shard.fleet.elapsed, Salt: binary.BigEndian.Uint64(salt[:]), Masters: u.shard.fleet.masters,
		})
	}
	return u.agent
}
