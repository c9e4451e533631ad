package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// group is one outlet group.
type group struct {
	cfg    *plan.Group
	set    *snap.OutletGroup // what it goes by: never changed in place
	on     bool
	onAt   vtime.Tick // closes then; Never: no closing is due
	shedAt vtime.Tick // opens then, ahead of the output; Never
	shed   bool       // by the countdown
	weak   bool       // by a rule of its own, until the mains are back
	held   bool       // somebody ordered it off
	short  bool       // waits for charge
	wanted bool       // the schedule has it come on once the mains are good
	wrong  bool       // the card believes something else to be on it than is
	rushes vtime.Tick // end of its inrush; Never: none
	backAt vtime.Tick // end of an ordered cycle; Never: none runs
	offAt  vtime.Tick // when it last went off; Never: it never did
	wasOff vtime.Tick // how long it was off the last time
}

func newGroup(cfg *plan.Group, set snap.OutletGroup) group {
	return group{
		cfg: cfg, set: &set, on: true, onAt: vtime.Never, shedAt: vtime.Never, rushes: vtime.Never,
		backAt: vtime.Never, offAt: vtime.Never,
	}
}

// switchGroups brings every group in line with the output, the countdown, its
// rules and what was ordered.
func (s *Site) switchGroups(now vtime.Tick) {
	s.takeOutletSettings()
	s.keepOnBattery(now)
	live := s.ups.OutputOn()
	counting := s.ups.ShutdownAt() != vtime.Never
	for i := range s.groups {
		g := &s.groups[i]
		if g.rushes <= now {
			g.rushes = vtime.Never
			s.touch()
		}
		if !s.own(i) {
			continue
		}
		was := g.on
		g.shedding(now, counting)
		s.applyRules(now, i)
		s.endCycle(now, g)
		g.follow(now, live, s.ups.Charge(&s.ups.Physics))
		if g.on != was {
			s.groupTurned(now, i)
		}
	}
}

// switchMainsGroups has the groups past the unit follow the site's supply.
func (s *Site) switchMainsGroups(now vtime.Tick, live bool) {
	for i := range s.groups {
		if g := &s.groups[i]; g.cfg.FromMains && g.on != live {
			g.on = live
			s.groupTurned(now, i)
		}
	}
}

// groupTurned is what follows when the outlets of a group became live or dead.
func (s *Site) groupTurned(now vtime.Tick, i int) {
	g := &s.groups[i]
	g.rushes = vtime.Never
	if g.on && g.cfg.Inrush.Times > 1 {
		g.rushes = now + g.cfg.Inrush.Lasts
	}
	if g.on {
		g.wasOff = now - g.offAt
	} else {
		g.offAt = now
	}
	s.noteGroup(i)
	s.powerHosts(now, i)
}

func (g *group) deadline() vtime.Tick { return min(g.onAt, g.shedAt, g.rushes, g.backAt) }

// shedding opens the group early while a shutdown countdown runs; a countdown
// that ends without a shutdown gives the outlets back.
func (g *group) shedding(now vtime.Tick, counting bool) {
	if !counting {
		g.shed, g.shedAt = false, vtime.Never
		return
	}
	if !g.shed && g.shedAt == vtime.Never && g.set.OffDelay != vtime.Never {
		g.shedAt = now + g.set.OffDelay
	}
	if g.shedAt <= now {
		g.shed, g.shedAt = true, vtime.Never
	}
}

// follow has the group be on where nothing keeps it off: after the output came on
// and there is charge enough its delay runs.
func (g *group) follow(now vtime.Tick, live bool, chargePct float64) {
	if !live || g.shed || g.weak || g.held {
		g.on, g.onAt, g.short = false, vtime.Never, false
		return
	}
	if g.on {
		return
	}
	if g.short = g.onAt == vtime.Never && chargePct < float64(g.set.MinPct); g.short {
		return
	}
	if g.onAt == vtime.Never {
		g.onAt = max(now+g.set.OnDelay, g.earliest())
	}
	if g.onAt <= now {
		g.on, g.onAt = true, vtime.Never
	}
}

// earliest is when it may come on again.
func (g *group) earliest() vtime.Tick {
	if g.offAt == vtime.Never {
		return 0
	}
	return g.offAt + g.set.MinOff
}

// tellOfGroup records an event of outlet group i.
func (s *Site) tellOfGroup(i int, what snap.What, text string) {
	what.Of = i
	s.says(what, "group "+s.groups[i].cfg.Name, text)
}

func (s *Site) noteGroup(i int) {
	what, word := snap.What{Kind: snap.WhatGroupOff}, "off"
	if s.groups[i].on {
		what.Kind, word = snap.WhatGroupOn, "on"
	}
	s.tellOfGroup(i, what, word)
	if s.own(i) { // the card knows nothing of the others
		s.card.Tell(snap.Notification{Kind: snap.NotifyGroupSwitched, Row: uint8(i + 1), Live: s.groups[i].on})
		s.hearGroup(i)
	}
}
