package snmp

import (
	"sync/atomic"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/model"
)

// act counts how often a quirk acted since the engine was told. It is told the first
// time, and then at most once a simulated minute.
type act struct {
	untold atomic.Int64
	told   atomic.Int64 // tick
}

func bit(k snap.QuirkKind) (set model.Acts) {
	set.Add(k)
	return set
}

// tell counts those that acted at now. It never waits.
func (a *Agent) tell(q *snap.Quirks, now vtime.Tick, acted model.Acts) {
	for k := snap.QuirkKind(1); k < snap.QuirkKinds && acted != 0; k++ {
		if acted.Has(k) {
			a.tellOne(k, q.Of(k).Since, now)
		}
	}
}

func (a *Agent) tellOne(k snap.QuirkKind, since, now vtime.Tick) {
	one := &a.oddities().acts[k]
	one.untold.Add(1)
	told := one.told.Load()
	if now-vtime.Tick(told) < vtime.Minute && int64(since) <= told || !one.told.CompareAndSwap(told, int64(now)) {
		return
	}
	n := one.untold.Swap(0)
	select {
	case a.reports <- snap.Command{Op: snap.OpQuirk, Text: k.String(), Code: int(n), By: snap.Actor{Surface: "snmp"}}:
	default: // the next act will try again
		one.untold.Add(n)
		one.told.CompareAndSwap(int64(now), told)
	}
}
