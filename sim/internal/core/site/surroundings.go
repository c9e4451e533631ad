package site

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// wards are what the card watches around its unit.
type wards struct {
	told      snap.Surroundings // that the watches are made of
	watches   []watch           // of told.Probes
	listens   []listen          // of the contacts of the roster
	sockets   [snap.MaxProbes]string
	found     [snap.MaxProbes]bool // probes that were told of and are not paired
	changedAt vtime.Tick           // when told last became others
}

func (s *Site) fillSurroundings(d *snap.Device) {
	d.Probes = snap.Probes{Count: len(s.watches), Sockets: s.sockets, Changed: s.changedAt}
	for i := range s.watches {
		d.Probes.List[i] = s.watches[i].view
	}
	d.Contacts = snap.Contacts{}
	for i := range s.listens {
		d.Contacts[i] = s.listens[i].state
	}
}

// newSurroundings puts probes and contacts of p into their places, and has the card
// watch those that it was told of.
func (s *Site) newSurroundings(p *plan.Plan) {
	s.contacts = newContacts(p)
	s.newBodies(p, s.room.view(&s.ups.Physics, &s.motion))
	for i := range p.Probes {
		s.bodies[i].in = !p.Probes[i].Out
	}
	s.told = s.card.InForce().Surroundings
	if !sameButIDs(s.told, p.Card.Settings.Surroundings) {
		s.roster = withSurroundings(s.roster, &s.told, s.every)
	}
	s.newWatches()
	for i := range s.watches {
		w := &s.watches[i]
		w.body = s.bodyOf(i)
		w.view.State = snap.ProbeNormal
		if w.body < 0 {
			w.view.State = snap.ProbeLost
			if w.set.ID == "" && !s.told.BySocket {
				w.view.State = snap.ProbeUnpaired
			}
			continue
		}
		b := &s.bodies[w.body]
		w.view.TempC, w.view.HasHumidity, w.view.HumidityPct = w.set.Sends.ToC(b.temp), b.cfg.Humidity, b.humidityPct
	}
	s.seeSockets()
	for i := range s.listens {
		s.listens[i].seen = s.looks(&s.listens[i])
	}
}

// newWatches are those of the settings in force, none of them reading anything.
func (s *Site) newWatches() {
	s.watches, s.listens = make([]watch, len(s.told.Probes)), make([]listen, len(s.roster.Contacts))
	for i := range s.watches {
		w := &s.watches[i]
		w.set, w.body = &s.told.Probes[i], -1
		w.forget()
		w.view = snap.Probe{Name: w.set.Name, State: snap.ProbeUnpaired}
	}
	for i := range s.listens {
		s.listens[i] = listen{set: &s.roster.Contacts[i]}
	}
}

// takeSettings has the card watch what it was told of now.
func (s *Site) takeSettings(now vtime.Tick) {
	set := &s.card.InForce().Surroundings
	if same(set.Probes, s.told.Probes) && same(set.Contacts, s.told.Contacts) && set.BySocket == s.told.BySocket {
		return
	}
	told, watches, listens := s.told, s.watches, s.listens
	s.told = *set
	if sameSettings(&told, set) { // a copy
		s.point()
		return
	}
	before := s.roster
	s.roster = withSurroundings(s.roster, set, s.every)
	if !sameRows(before, s.roster) {
		s.hearNoMore()
		s.card.Renumber()
		s.changedAt = now
	}
	s.newWatches()
	for i := range s.watches {
		s.watches[i].carry(watches, told.Probes)
		s.watches[i].body = s.bodyOf(i)
	}
	for i := range s.listens {
		l := &s.listens[i]
		l.seen = s.looks(l)
		for k := range listens {
			if listens[k].set.Name == l.set.Name {
				l.seen, l.state, l.said = listens[k].seen, listens[k].state, listens[k].said
			}
		}
	}
	s.touch()
	s.cables(now)
	if s.card.Running() {
		s.hearAll()
	}
}

// point has the watches look at the present copy of their settings.
func (s *Site) point() {
	for i := range s.watches {
		s.watches[i].set = &s.told.Probes[i]
	}
}

// carry takes over what was known under the same name, or else of the same probe,
// which somebody has renamed.
func (w *watch) carry(before []watch, told []snap.ProbeSetting) {
	i := slices.IndexFunc(told, func(p snap.ProbeSetting) bool { return p.Name == w.set.Name })
	if i < 0 && w.set.ID != "" {
		i = slices.IndexFunc(told, func(p snap.ProbeSetting) bool { return p.ID == w.set.ID })
	}
	if i < 0 {
		return
	}
	set := w.set
	*w = before[i]
	w.set, w.view.Name = set, set.Name
	if set.Sends != told[i].Sends {
		w.recent = recent{} // it was read in another unit
	}
}

// cables finds which probe each watch reads, after something was plugged, or told.
func (s *Site) cables(now vtime.Tick) {
	s.touch()
	for i := range s.watches {
		w := &s.watches[i]
		was := w.view.Socket
		w.body = s.bodyOf(i)
		if is := s.socketOf(w); is != was && is != 0 && was != 0 && !s.told.BySocket {
			s.noteCard(now, fmt.Sprintf("probe %s is in socket %d now, it was in socket %d", w.set.Name, is, was))
		}
	}
	s.seeSockets()
	for i := range s.watches {
		s.judge(now, &s.watches[i])
	}
	for i := range s.bodies {
		if b := &s.bodies[i]; b.in && s.watcher(i) == nil && !s.found[i] {
			s.noteCard(now, fmt.Sprintf("a probe was found in socket %d, id %s: not paired", b.home+1, b.id))
			s.found[i] = true
		} else if !b.in {
			s.found[i] = false
		}
	}
}

func (s *Site) noteCard(now vtime.Tick, text string) {
	s.note("card", text)
	s.card.Record(now, text)
}

// seeSockets notes where each probe is.
func (s *Site) seeSockets() {
	for i := range s.watches {
		if at := s.socketOf(&s.watches[i]); at != 0 || s.watches[i].set.ID == "" {
			s.watches[i].view.Socket = at
		}
	}
	for i := range s.sockets {
		s.sockets[i] = ""
		if k := s.inSocket(i); k >= 0 {
			s.sockets[i] = s.bodies[k].id
		}
	}
}

func (s *Site) socketOf(w *watch) int8 {
	if w.body < 0 {
		return 0
	}
	return int8(s.bodies[w.body].home + 1)
}

// bodyOf is the probe that the i-th watch reads, -1 if it is not plugged in.
func (s *Site) bodyOf(i int) int {
	if s.told.BySocket {
		return s.inSocket(i)
	}
	for k := range s.bodies {
		if b := &s.bodies[k]; b.in && b.id == s.told.Probes[i].ID {
			return k
		}
	}
	return -1
}

// watcher is the watch that reads the probe, nil if none does.
func (s *Site) watcher(body int) *watch {
	for i := range s.watches {
		if s.watches[i].body == body {
			return &s.watches[i]
		}
	}
	return nil
}

func (s *Site) rowOf(w *watch) int {
	for i := range s.watches {
		if w == &s.watches[i] {
			return i
		}
	}
	return -1
}

// every is the interval of the probe with that id, or in that socket.
func (s *Site) every(set *snap.Surroundings, i int) vtime.Tick {
	for k := range s.bodies {
		if b := &s.bodies[k]; set.BySocket && b.home == i || !set.BySocket && b.id == set.Probes[i].ID {
			return b.cfg.Every
		}
	}
	return 0
}

// same says whether a and b are one list, not only equal ones.
func same[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// sameRows says whether the same probes and contacts stand in the same rows.
func sameRows(a, b *snap.Roster) bool {
	return slices.EqualFunc(a.Probes, b.Probes, func(p, q snap.RosterProbe) bool { return p.Name == q.Name && p.Contacts == q.Contacts }) &&
		slices.EqualFunc(a.Contacts, b.Contacts, func(c, d snap.RosterContact) bool { return c.Name == d.Name && c.At == d.At })
}

func sameSettings(a, b *snap.Surroundings) bool {
	return a.BySocket == b.BySocket && slices.Equal(a.Probes, b.Probes) && slices.Equal(a.Contacts, b.Contacts)
}

// sameButIDs leaves out what differs between the sites of a fleet.
func sameButIDs(a, b snap.Surroundings) bool {
	a.Probes, b.Probes = slices.Clone(a.Probes), slices.Clone(b.Probes)
	for _, list := range [][]snap.ProbeSetting{a.Probes, b.Probes} {
		for i := range list {
			list[i].ID = ""
		}
	}
	return sameSettings(&a, &b)
}
