package budget

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// stopping is how one host is stopped, in ticks from the loss of the mains.
type stopping struct {
	told  vtime.Tick // Never: nobody tells it
	ready vtime.Tick // it runs from here on
	end   vtime.Tick // it has stopped; Never: it does not
}

// chain works out when every host is told and has stopped if all is decided at a
// tick, and when the policy is done with all of them. gone are those that have lost
// their power.
func (f *facts) chain(n *numbers, decided vtime.Tick, gone []bool) (hosts []stopping, done vtime.Tick) {
	hosts, done = make([]stopping, len(f.p.Hosts)), decided
	f.readyAt(n, hosts)
	settled := make([]vtime.Tick, len(hosts))
	for _, i := range f.order {
		h := &hosts[i]
		if settled[i], h.told = decided, vtime.Never; gone[i] {
			continue
		}
		h.told = decided
		if n.policy.InOrder {
			for _, k := range f.needed[i] {
				h.told = max(h.told, settled[k])
			}
		}
		h.end = f.fastest(n, h, i)
		settled[i] = min(h.end, later(h.told, n.patience()))
		done = max(done, settled[i])
	}
	for k := len(f.order) - 1; k >= 0; k-- {
		if i := f.order[k]; !gone[i] && !f.served(n, hosts, gone, i) {
			hosts[i].end = vtime.Never
		}
	}
	return hosts, done
}

// readyAt fills in when each host runs: at once, or after a boot that waits for those
// that it needs.
func (f *facts) readyAt(n *numbers, hosts []stopping) {
	if !n.boots {
		return
	}
	for k := len(f.order) - 1; k >= 0; k-- {
		i := f.order[k]
		on := vtime.Never
		for _, g := range f.feeds[i] {
			on = min(on, n.groups[g].OnDelay)
		}
		at := later(on, f.p.Hosts[i].Boot)
		for _, need := range f.p.Hosts[i].Needs {
			at = max(at, hosts[need].ready)
		}
		hosts[i].ready = at
	}
}

// fastest is when host i has stopped if all that it needs stays.
func (f *facts) fastest(n *numbers, h *stopping, i int) vtime.Tick {
	if p := &f.p.Hosts[i]; p.Hangs || p.Channel != snap.ChannelWorks {
		return vtime.Never
	}
	return later(max(h.told, h.ready), n.stop[i])
}

// served says whether what host i needs is there until it has stopped, and is up when
// it starts.
func (f *facts) served(n *numbers, hosts []stopping, gone []bool, i int) bool {
	h := &hosts[i]
	for _, k := range f.p.Hosts[i].Needs {
		need := &hosts[k]
		from := max(need.told, need.ready)
		late := n.boots && h.ready > h.told && (from < h.ready || from == h.ready && !n.policy.InOrder)
		if gone[k] || late || need.end < h.end {
			return false
		}
	}
	return true
}

// patience is how long the policy waits for one host.
func (n *numbers) patience() vtime.Tick {
	if n.policy.HostDeadline <= 0 {
		return vtime.Never
	}
	return n.policy.HostDeadline
}

// ordersOff is when the policy orders the output off, if it decides and is done with all
// hosts at those ticks.
func (n *numbers) ordersOff(decided, done vtime.Tick) vtime.Tick {
	if n.policy.OffWhen == "at-once" {
		return decided
	}
	return done
}

// offs are when the groups open by the countdown that was ordered at a tick; Never for
// those that it does not reach.
func (f *facts) offs(n *numbers, ordered vtime.Tick) []vtime.Tick {
	output := later(ordered, wholeSeconds(n.policy.OffDelay))
	offs := make([]vtime.Tick, len(n.groups))
	for g := range offs {
		if offs[g] = min(output, later(ordered, n.groups[g].OffDelay)); f.p.Groups[g].FromMains || n.policy.OffDelay == vtime.Never {
			offs[g] = vtime.Never
		}
	}
	return offs
}

// wholeSeconds is t as a countdown is ordered: whole seconds, rounded down.
func wholeSeconds(t vtime.Tick) vtime.Tick {
	if t == vtime.Never {
		return t
	}
	return t / vtime.Second * vtime.Second
}

// later is t and span more, where either may be Never.
func later(t, span vtime.Tick) vtime.Tick {
	if t == vtime.Never || span == vtime.Never {
		return vtime.Never
	}
	return t + span
}
