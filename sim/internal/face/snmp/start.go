package snmp

import (
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/usm"
)

// start is what the agent keeps of the card's last start.
type start struct {
	boots uint32
	time  int64         // snmpEngineTime when the agent saw that the card had started
	at    time.Duration // and the real clock then
}

// restart begins to count again if the card has started anew.
func (a *Agent) restart(c *snap.Card, now vtime.Tick) *start {
	old := a.begun.Load()
	if old != nil && c.Boots <= old.boots {
		return old
	}
	s := &start{boots: c.Boots, time: simulated(c, now)}
	if a.clock != nil {
		s.at = a.clock()
	}
	if !a.begun.CompareAndSwap(old, s) {
		return a.begun.Load()
	}
	a.counters.Reset()
	return s
}

// engineTime is snmpEngineTime.
func (a *Agent) engineTime(c *snap.Card, now vtime.Tick, s *start) int64 {
	t := simulated(c, now)
	if one := c.Quirks.Of(snap.QuirkEngineTimeStuck); one != nil {
		return max(simulated(c, one.Since), 0)
	}
	if a.clock != nil && accessOf(c).RealEngineTime {
		t = s.time + int64((a.clock()-s.at)/time.Second)
	}
	return min(max(t, 0), usm.MaxCount)
}

// simulated is the seconds since the card's agent started, by the card's clock.
func simulated(c *snap.Card, now vtime.Tick) int64 { return c.Runs(now).WholeSeconds() }
