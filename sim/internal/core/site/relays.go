package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// wire is a host that stops by a relay of the card, whatever the network does.
type wire struct {
	host  int
	cfg   *plan.Wired
	since vtime.Tick // the contact is in that position; Never: it is not
}

func newWires(p *plan.Plan) (list []wire) {
	for i := range p.Hosts {
		if w := p.Hosts[i].Wired; w != nil {
			list = append(list, wire{host: i, cfg: w, since: vtime.Never})
		}
	}
	return list
}

func (s *Site) wireDue() vtime.Tick {
	next := vtime.Never
	for i := range s.wires {
		w := &s.wires[i]
		if h := &s.hosts[w.host]; w.since != vtime.Never && h.state == snap.HostRunning && !h.told {
			next = min(next, w.since+w.cfg.For)
		}
	}
	return next
}

// runWires lets the hosts look at the contact that they are wired to.
func (s *Site) runWires(now vtime.Tick) {
	for i := range s.wires {
		w := &s.wires[i]
		switch is := s.card.RelayClosed(w.cfg.Output) == w.cfg.Closed; {
		case !is:
			w.since = vtime.Never
		case w.since == vtime.Never:
			w.since = now
		}
		if h := &s.hosts[w.host]; w.since != vtime.Never && w.since+w.cfg.For <= now && h.state == snap.HostRunning {
			s.tell(now, w.host)
		}
	}
}

// surround tells the card's relays how probes and contacts are.
func (s *Site) surround() {
	if !s.card.HasRelays() {
		return
	}
	probe, contact := false, false
	for i := range s.watches {
		state := s.watches[i].view.State
		probe = probe || state != snap.ProbeNormal && state != snap.ProbeUnpaired
	}
	for i := range s.listens {
		state := s.listens[i].state
		contact = contact || state == snap.ContactActive || state == snap.ContactFault
	}
	s.card.Surround(probe, contact)
}
