package snmp

import (
	"sync"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/model"
)

// act counts how often a quirk acted since the engine was told. It is told the first
// time, and then ever more rarely.
type act struct {
	mu     sync.Mutex
	untold int
	since  vtime.Tick // when the quirk came into force
	next   vtime.Tick // not told again before
	wait   vtime.Tick // from one time to the next
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
	one.mu.Lock()
	defer one.mu.Unlock()
	if one.since != since {
		one.untold, one.since, one.next, one.wait = 0, since, now, 0
	}
	if one.untold++; now < one.next {
		return
	}
	select {
	case a.reports <- &snap.Command{Op: snap.OpQuirk, Text: k.String(), Code: one.untold, By: snap.Actor{Surface: "snmp"}}:
		one.wait = snap.NextActs(one.wait)
		one.untold, one.next = 0, now+one.wait
	default: // the next act will try again
	}
}
