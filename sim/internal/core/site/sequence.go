package site

import (
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// stopHosts tells the hosts to stop, each when nobody needs it any longer, and
// orders the output off when all have stopped or used up their time.
func (s *Site) stopHosts(now vtime.Tick) {
	p := &s.policy
	s.spareHosts()
	done := true
	for i := range s.hosts {
		if s.hosts[i].isProcess() || p.orders[i].spared {
			continue
		}
		switch {
		case p.orders[i].told == vtime.Never && (!p.cfg.InOrder || s.nobodyNeeds(now, i)):
			p.orders[i].told = now
			s.giveOrder(now, i)
		case p.orders[i].told != vtime.Never:
			s.followUp(now, i)
		}
		done = done && s.settledWith(now, i)
	}
	if done && p.offAt == vtime.Never {
		s.orderOff(now)
	}
	if done && p.offAt != vtime.Never {
		s.stage(snap.PolicyOffOrdered, "all hosts are done")
	}
}

// settledWith says whether the policy is done with a host: it no longer runs,
// or its time is used up.
func (s *Site) settledWith(now vtime.Tick, i int) bool {
	h := &s.hosts[i]
	if h.isProcess() || !h.alive() || s.policy.orders[i].spared {
		return true
	}
	told := s.policy.orders[i].told
	return told != vtime.Never && now >= s.giveUpAt(told)
}

// spareHosts finds out which hosts need not stop: those that hang on another unit, or
// have enough live supplies that stay, and whose needs are met alike.
func (s *Site) spareHosts() {
	orders := s.policy.orders
	for i := range s.hosts {
		h := &s.hosts[i]
		orders[i].spared = !s.mindsHost(h) || !s.policy.cfg.StopDualFed && s.staying(h) >= h.cfg.LeastSupplies()
	}
	for again := true; again; {
		again = false
		for i := range s.hosts {
			if orders[i].spared && s.needsStop(i) {
				orders[i].spared, again = false, true
			}
		}
	}
}

// needsStop says whether something that host i needs is to be stopped.
func (s *Site) needsStop(i int) bool {
	return slices.ContainsFunc(s.hosts[i].cfg.Needs, func(n int) bool { return !s.policy.orders[n].spared })
}

// staying counts the live supplies of h that neither this shutdown takes away nor
// that of another unit which is under way.
func (s *Site) staying(h *host) (n int) {
	for _, g := range h.cfg.Groups {
		of := &s.plan.Groups[g]
		if s.groups[g].on && (of.FromMains || of.Unit != s.plan.Unit && !s.unit(of.Unit).leaves()) {
			n++
		}
	}
	return n
}

// leaves says whether the policy is about to have this unit switch its output off.
func (s *Site) leaves() bool {
	return s.policy.stage == snap.PolicyStopping || s.policy.stage == snap.PolicyOffOrdered
}

func (s *Site) giveUpAt(told vtime.Tick) vtime.Tick {
	if s.policy.cfg.HostDeadline <= 0 {
		return vtime.Never
	}
	return told + s.policy.cfg.HostDeadline
}

func (s *Site) nobodyNeeds(now vtime.Tick, i int) bool {
	for j := range s.hosts {
		for _, n := range s.hosts[j].cfg.Needs {
			if n == i && !s.settledWith(now, j) {
				return false
			}
		}
	}
	return true
}

// nextGiveUp is the next time at which a told host has used up its time.
func (s *Site) nextGiveUp(now vtime.Tick) vtime.Tick {
	next := vtime.Never
	if s.policy.stage != snap.PolicyStopping {
		return next
	}
	for i := range s.policy.orders {
		told := s.policy.orders[i].told
		if told == vtime.Never || !s.hosts[i].alive() {
			continue
		}
		if at := s.giveUpAt(told); at > now {
			next = min(next, at)
		}
	}
	return next
}

// orderOff has the UPS count down to off, and arms its startup if so planned, in one
// request. Without an answer from the card it is tried again with the next poll.
func (s *Site) orderOff(now vtime.Tick) {
	p := &s.policy
	seconds := int64(p.cfg.OffDelay / vtime.Second)
	sets := []snap.Assignment{{Var: snap.VarShutdownAfter, Int: seconds}}
	if p.cfg.StartDelay != vtime.Never && !p.held {
		sets = append(sets, snap.Assignment{Var: snap.VarStartupAfter, Int: int64(p.cfg.StartDelay / vtime.Second)})
	}
	if !s.order(now, sets...) {
		return
	}
	p.offAt = now + vtime.Tick(seconds)*vtime.Second
	p.onWord = p.held
	s.note("policy", "orders the output off")
}

// order writes countdowns through the card in one request, as a client would, and says
// whether the card has told that it took them: one whose answer is lost has.
func (s *Site) order(now vtime.Tick, sets ...snap.Assignment) bool {
	p := &s.policy
	p.silent = p.silent || !s.reached() || !s.admits(now, p.cfg.Peer, &p.cfg.Client, true) || !s.card.HasUnit() || s.card.Quirks().Of(snap.QuirkHung) != nil
	if p.silent {
		return false
	}
	ok, _ := s.exchange("order", inward, 1+p.cfg.Retries, p.cfg.Timeout, 0, func() {
		for _, a := range sets {
			s.ups.Apply(now, a)
		}
	})
	if p.silent = !ok; p.silent {
		s.note("policy", "an order to the card is not answered")
	}
	return ok
}

// restart waits, with the output off, until the gates are passed. An output
// that somebody else switched off is left alone.
func (s *Site) restart(now vtime.Tick, r reading) {
	p := &s.policy
	if p.stage != snap.PolicyRestarting {
		p.mine = p.offAt != vtime.Never || p.since != vtime.Never
		s.stage(snap.PolicyRestarting, "the output is off")
		p.offSeen = now
		p.since = vtime.Never
	}
	if !p.mine || p.held || r.hot || p.cfg.StartDelay != vtime.Never && !p.onWord || !r.inputGood || !r.charged(p.cfg.MinCharge) || now-p.offSeen < p.cfg.MinOff {
		return
	}
	s.order(now, snap.Assignment{Var: snap.VarStartupAfter, Int: 0})
}
