package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Scratch is what a site needs to work and nothing of its state: the view of it,
// the step that is tried, what happened until it is taken. Sites may share one,
// one at a time; see [Site.Use]. That saves more than half of their memory.
type Scratch struct {
	owner *Site
	bond  *bond // with other units of the site; nil: there is one, as with all that share a scratch
	steps device.Steps
	tried struct {
		physics device.Physics
		motion  motion
		flows   device.Flows
		dt      vtime.Tick
	}
	view  snap.Site
	shown struct { // what view was filled from, so that it is not filled twice
		tick    vtime.Tick
		flows   device.Flows
		motion  motion
		changes int // of the unit's physics at an instant
	}
	filled  uint64                  // how many views there have been
	drawn   [snap.MaxGroups]float64 // on each group, in watts, when the view was filled
	meters  [snap.MaxGroups]float64 // what each group draws, while the load is summed up
	events  []Event
	effects []snap.Effect
}

// Use has the site work in sc, and shows it there at its last settled instant. It
// has to be called before any other method if another site may have used sc
// since; events and effects must have been taken.
func (s *Site) Use(sc *Scratch) {
	if sc.owner == s && s.Scratch == sc {
		return
	}
	s.take(sc)
	s.Rest()
}

// take makes sc the site's, with an empty view.
func (s *Site) take(sc *Scratch) {
	v := &sc.view
	peers, switches := sized(v.Net.Peers, len(s.plan.Peers)), sized(v.Net.Switches, len(s.plan.Switches))
	*v = snap.Site{Hosts: sized(v.Hosts, len(s.hosts)), Groups: sized(v.Groups, len(s.groups))}
	v.Net.Peers, v.Net.Switches = peers, switches
	sc.owner, s.Scratch, s.stale = s, sc, true
	s.ups.Use(&sc.steps)
}

// sized is a slice of n, list itself if it has room.
func sized[T any](list []T, n int) []T {
	if cap(list) < n {
		return make([]T, n)
	}
	list = list[:n]
	clear(list)
	return list
}
