package site

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// order is how the policy stands with its order to one host.
type order struct {
	told    vtime.Tick   // when it was first given; Never: not yet
	spared  bool         // the host need not stop
	refused bool         // the channel has not taken it
	by      snap.Channel // what it met last
	at      vtime.Tick   // when it was last given
	left    bool         // the policy goes on without the host
}

// giveOrder has the policy order a host to stop, over the channel that it has for it.
func (s *Site) giveOrder(now vtime.Tick, i int) {
	h, o := &s.hosts[i], &s.policy.orders[i]
	was := *o
	o.at, o.by, o.refused = now, h.channel, h.channel.Tells() && h.alive()
	switch {
	case o.refused:
		h.refused++
		if !was.refused || was.by != o.by {
			s.note("policy", "order to stop host "+h.cfg.Name+" not taken: "+o.by.String())
		}
	case h.channel == snap.ChannelWorks:
		if was.refused {
			s.note("policy", "host "+h.cfg.Name+" takes the order to stop at last")
		}
		s.tell(now, i)
	}
}

// followUp repeats, with each poll, an order that was not taken, until the host has
// used up its time.
func (s *Site) followUp(now vtime.Tick, i int) {
	p, h := &s.policy, &s.hosts[i]
	o := &p.orders[i]
	switch late := now >= s.giveUpAt(o.told); {
	case o.left || !h.alive() || o.by == snap.ChannelWorks:
	case late:
		o.left = true
		s.note("policy", "goes on without host "+h.cfg.Name+": "+o.by.String())
	case o.refused && now >= o.at+p.cfg.Poll:
		s.giveOrder(now, i)
	}
}
