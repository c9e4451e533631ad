package site

import (
	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// passes bounds how often an instant is gone through until nothing changes.
const passes = 1000

// Settle lets everything happen that has fallen due.
func (s *Site) Settle(now vtime.Tick) {
	s.now = now
	for _, u := range s.others() {
		u.now = now
	}
	for range passes {
		s.pass(now)
		if !s.dirty {
			s.rest()
			s.show(now)
			return
		}
	}
	panic("site: the instant " + now.String() + " never settles")
}

// pass goes through the instant once. The cards look at the units only when those
// have come to rest, and the policy at the cards likewise, so that neither sees
// what is true for no time at all.
func (s *Site) pass(now vtime.Tick) {
	others := s.others()
	s.dirty = false
	for _, u := range others {
		u.dirty = false
	}
	s.runPlant(now)
	for _, u := range others {
		u.runPlant(now)
	}
	s.runWatchers(now)
	for _, u := range others {
		u.runWatchers(now)
	}
}

// rest notes what is known once nothing changes any more.
func (s *Site) rest() {
	s.restHosts()
	s.peakPct = max(s.peakPct, s.ups.LoadPct())
	for _, u := range s.others() {
		u.rest()
	}
}

// runPlant is what happens by itself.
func (s *Site) runPlant(now vtime.Tick) {
	s.playTimeline(now)
	s.runLogins(now)
	s.runSupply(now)
	s.runUnit(now)
	s.switchGroups(now)
	s.runSwitches(now)
	s.runHosts(now)
	s.runCooling(now)
	s.takeSettings(now)
	s.runBodies(now)
	s.runContacts(now)
	s.runTimeServers(now)
	s.keepPast(now)
	if s.shifted {
		s.shifted = false
		s.ups.SetLoad(s.load(now))
	}
	s.refresh(now)
}

// runWatchers is what is done by those who look, each once all before it is at rest.
func (s *Site) runWatchers(now vtime.Tick) {
	if !s.dirty {
		s.runCard(now)
	}
	if !s.dirty {
		s.runWires(now)
	}
	if !s.dirty {
		s.runPaths()
	}
	if !s.dirty {
		s.runPolicy(now)
	}
	if !s.dirty {
		s.runMonitor(now)
	}
}

// runUnit lets the unit act. A new estimate may make a condition true, so that
// the instant has to be gone through once more.
func (s *Site) runUnit(now vtime.Tick) {
	before := s.ups.Physics.RuntimeS
	s.ups.Due(now)
	s.takeGap(now)
	if s.ups.Physics.RuntimeS != before {
		s.touch()
	}
}

// takeGap puts to the hosts what the output has lost by what the unit did.
func (s *Site) takeGap(now vtime.Tick) {
	if gap := s.ups.TakeGap(); gap > 0 {
		s.gapHosts(now, gap)
	}
}

// refresh makes the readings anew if the flow of power has changed.
func (s *Site) refresh(now vtime.Tick) {
	if s.ups.Upsets() == s.upsets {
		return
	}
	s.upsets, s.disturbed = s.ups.Upsets(), now
	s.flows = s.ups.Refresh(now)
	s.touch()
}

func (s *Site) runCard(now vtime.Tick) {
	s.card.Power(now, s.ups.CardPowered())
	state := card.State{Conditions: s.ups.Conditions(now), Test: s.ups.TestResult(), Source: s.ups.Source()}
	s.surround()
	s.bringUp(now)
	before := s.card.Renewals()
	started := s.card.Due(now, state, s.notify)
	s.countLeases()
	if started {
		counted := s.ups.ShutdownAt() != vtime.Never
		s.ups.AgentRestarted(now, s.plan.Card.RestartAborts)
		if counted && s.ups.ShutdownAt() == vtime.Never {
			s.card.CountdownLost()
		}
		s.recount()
		s.countAnew()
		s.bringUp(now)
		s.hearAll()
		s.announce()
		s.touch()
	}
	s.takeQuirks(now)
	s.runPosts(now)
	for _, q := range s.card.Queries() {
		s.askTime(now, q)
	}
	s.askLease()
	s.runSchedule(now)
	s.stale = s.card.Stirred() || s.stale
	if !s.dirty && s.card.SampleDue(now) {
		s.fill(now)
		s.card.Sample(now, &s.view.Device)
		s.touch()
	}
	s.stale = s.stale || s.card.Renewals() != before
}

// about is what the notification tells of, "" for the unit or the card as a whole.
func (s *Site) about(n snap.Notification) string {
	switch {
	case n.Alarm != 0:
		return n.Alarm.String()
	case n.Kind == snap.NotifyRisen:
		return n.Event.String()
	case n.Kind == snap.NotifyGroupSwitched:
		return s.plan.Groups[n.Row-1].Name
	case n.To != 0:
		return s.receiverName(n.To)
	case n.Kind == snap.NotifyContact:
		return s.roster.Contacts[n.Row-1].Name
	case n.Row != 0:
		return s.watches[n.Row-1].set.Name
	}
	return ""
}
