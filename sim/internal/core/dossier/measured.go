package dossier

import (
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Cycle is one stop of a host and what came after it. Times are from the start of the
// scenario, [vtime.Never] for what did not happen.
type Cycle struct {
	Host    string
	Ordered vtime.Tick // it began to stop
	Stopped vtime.Tick // it had stopped by itself
	Cut     vtime.Tick // it lost its power before that
	Booted  vtime.Tick // it began to start
	Running vtime.Tick // it was at work again
}

// How is the end of it in a word.
func (c *Cycle) How() string {
	switch {
	case c.Cut != vtime.Never:
		return "cut"
	case c.Stopped != vtime.Never:
		return "clean"
	}
	return "not stopped"
}

func newCycle(host string) Cycle {
	n := vtime.Never
	return Cycle{host, n, n, n, n, n}
}

// cycles are the stops of all hosts in the order in which they began.
func cycles(r *report.Result) []Cycle {
	var list []Cycle
	open := map[int]int{} // place of the latest of each host
	for _, e := range r.Events {
		host, state := e.What.Of, e.What.Host
		if e.What.Kind != snap.WhatHost {
			continue
		}
		at, has := open[host]
		if began := state == snap.HostStopping || state == snap.HostCut; began && (!has || list[at].Booted != vtime.Never || list[at].How() != "not stopped") {
			at, has = len(list), true
			open[host] = at
			list = append(list, newCycle(r.Hosts[host].Name))
		}
		if has {
			list[at].take(e.Tick, state)
		}
	}
	return list
}

func (c *Cycle) take(now vtime.Tick, state snap.HostState) {
	var to *vtime.Tick
	switch state {
	case snap.HostStopping:
		to = &c.Ordered
	case snap.HostStopped:
		to = &c.Stopped
	case snap.HostCut:
		to = &c.Cut
	case snap.HostBooting:
		to = &c.Booted
	case snap.HostRunning:
		to = &c.Running
	}
	if to != nil && *to == vtime.Never {
		*to = now
	}
}
