package dossier

import (
	"strings"

	"ridethrough/sim/internal/core/report"
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
	open := map[string]int{} // place of the latest of each host
	for _, e := range r.Events {
		kind, host, ok := strings.Cut(e.Subject, " ")
		if !ok || kind != "host" {
			continue
		}
		at, has := open[host]
		if began := e.Text == "stopping" || e.Text == "cut"; began && (!has || list[at].Booted != vtime.Never || list[at].How() != "not stopped") {
			at, has = len(list), true
			open[host] = at
			list = append(list, newCycle(host))
		}
		if has {
			list[at].take(e.Tick, e.Text)
		}
	}
	return list
}

func (c *Cycle) take(now vtime.Tick, state string) {
	var to *vtime.Tick
	switch state {
	case "stopping":
		to = &c.Ordered
	case "stopped":
		to = &c.Stopped
	case "cut":
		to = &c.Cut
	case "booting":
		to = &c.Booted
	case "running":
		to = &c.Running
	}
	if to != nil && *to == vtime.Never {
		*to = now
	}
}
