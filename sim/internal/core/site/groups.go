package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// group is one outlet group.
type group struct {
	cfg    *plan.Group
	on     bool
	onAt   vtime.Tick // closes then; Never: no closing is due
	shedAt vtime.Tick // opens then, ahead of the output; Never
	shed   bool
	rushes vtime.Tick // end of its inrush; Never: none
}

func newGroup(cfg *plan.Group) group {
	return group{cfg: cfg, on: true, onAt: vtime.Never, shedAt: vtime.Never, rushes: vtime.Never}
}

// switchGroups brings every group in line with the output and the countdown.
func (s *Site) switchGroups(now vtime.Tick) {
	live := s.ups.OutputOn()
	counting := s.ups.ShutdownAt() != vtime.Never
	for i := range s.groups {
		g := &s.groups[i]
		if g.rushes <= now {
			g.rushes = vtime.Never
			s.touch()
		}
		if g.cfg.FromMains {
			continue
		}
		was := g.on
		g.shedding(now, counting)
		g.follow(now, live)
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
	s.noteGroup(i)
	s.powerHosts(now, i)
}

func (g *group) deadline() vtime.Tick { return min(g.onAt, g.shedAt, g.rushes) }

// shedding opens the group early while a shutdown countdown runs; a countdown
// that ends without a shutdown gives the outlets back.
func (g *group) shedding(now vtime.Tick, counting bool) {
	if !counting {
		g.shed, g.shedAt = false, vtime.Never
		return
	}
	if !g.shed && g.shedAt == vtime.Never && g.cfg.OffDelay != vtime.Never {
		g.shedAt = now + g.cfg.OffDelay
	}
	if g.shedAt <= now {
		g.shed, g.shedAt = true, vtime.Never
	}
}

func (g *group) follow(now vtime.Tick, live bool) {
	if !live || g.shed {
		g.on, g.onAt = false, vtime.Never
		return
	}
	if !g.on && g.onAt == vtime.Never {
		g.onAt = now + g.cfg.OnDelay
	}
	if g.onAt <= now {
		g.on, g.onAt = true, vtime.Never
	}
}

func (s *Site) noteGroup(i int) {
	word := "off"
	if s.groups[i].on {
		word = "on"
	}
	s.note("group "+s.groups[i].cfg.Name, word)
	if !s.groups[i].cfg.FromMains { // the card knows nothing of the others
		s.card.Tell(snap.Notification{Kind: snap.NotifyGroupSwitched, Row: uint8(i + 1), Live: s.groups[i].on})
	}
}
