package site

import (
	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Event is one thing that happened, for the trace and for observers.
type Event struct {
	Tick          vtime.Tick
	Subject, Text string // for people
	What          snap.What
}

// Site is one simulated site. It is not safe for concurrent use.
type Site struct {
	plan *plan.Plan
	self *plan.Member
	now  vtime.Tick

	factory *snap.Roster       // shared by the sites of the plan
	unset   []snap.OutletGroup // what that is made of, likewise
	roster  *snap.Roster       // with what has been set

	*Scratch
	ups      *device.UPS
	card     *card.Card
	utility  utility
	second   *utility // feed of the bypass; never changed in place: sites share it until something befalls it
	genset   *genset  // shared if there is no generator
	feeds    feeds
	room     room
	bodies   []body
	places   []place
	contacts []contact

	timeServers []timeServer

	wards
	wires    []wire // nil: nobody is wired to a relay
	groups   []group
	hosts    []host
	policy   policy
	monitor  *monitor
	line     timeline
	past     past
	net      network
	held     *snap.Device      // what the card read last before it lost the unit
	rules    *snap.OutletGroup // the first of the settings that the groups go by
	outageAt vtime.Tick        // since when an outage has the output on battery; Never

	motion  motion
	hostsW  float64 // what all hosts draw
	directW float64 // what of it goes past the unit
	peakPct float64 // highest load of the output so far

	energy *snap.Energy // what groups have drawn; nil: there are none

	flows    device.Flows
	storedAt float64 // energy in the battery at tick 0

	servers servers
	logins  *logins

	traffic *traffic // nil while nothing of it is out of the ordinary

	locked    bool       // switching from remote is locked out at the unit
	dirty     bool       // something happened in this pass
	stirred   bool       // something happened since the hosts were last gone through
	ruled     bool       // a rule of them is about charge or runtime
	stale     bool       // something happened since the view was filled
	shifted   bool       // something happened since the load was summed up
	hostsDue  vtime.Tick // when the next host acts by itself, if nothing happens before
	upsets    int        // of the unit, when its readings were last made anew
	disturbed vtime.Tick // when that was
}

// New is the site of p at tick 0, settled. The hosts run, the input is good.
func New(p *plan.Plan) *Site {
	s := newSite(p)
	s.begin(new(Scratch))
	s.addUnits()
	s.startProcesses()
	s.Settle(0)
	return s
}

func newSite(p *plan.Plan) *Site {
	s := &Site{plan: p, self: p.Self(), factory: newRoster(p), unset: p.OutletGroups()}
	s.ups = device.New(p.UPS, p.Battery, p.Source, s.says)
	return s
}

// Like is another site of s's plan, with m as its own part, at tick 0. It shares
// with s what never changes, and uses sc.
func (s *Site) Like(m *plan.Member, sc *Scratch) *Site {
	twin := &Site{plan: s.plan, self: m, factory: s.factory, unset: s.unset, second: s.untouched()}
	if s.now == 0 {
		twin.energy = s.energy // until it draws something else
	}
	twin.ups = s.ups.Twin(twin.says)
	twin.begin(sc)
	twin.startProcesses()
	twin.Settle(0)
	return twin
}

func (s *Site) begin(sc *Scratch) {
	p, self := s.plan, s.self
	s.Scratch = sc
	s.roster = s.factory
	s.disturbed, s.outageAt = -vtime.Hour, vtime.Never
	s.card = card.New(&self.Card, self.Network, self.Seed, p.Start, s.says)
	s.card.Reads(s.facts)
	s.servers = newServers(p.Servers, self.Seed)
	s.storedAt = s.ups.StoredWh(&s.ups.Physics)
	s.utility = newUtility(p.Source, "source")
	if s.second == nil {
		second := newUtility(p.Source, "bypass_source")
		s.second = &second
	}
	s.genset, s.feeds = newGenset(p.Source), newFeeds(p)
	s.newRoom(p)
	s.line = timeline{entries: self.Entries, fired: make([]bool, len(self.Entries))}
	s.newHosts(p)
	s.timeServers = newTimeServers(p)
	s.logins = newLogins(p)
	s.policy = newPolicy(p.Policy, len(p.Hosts))
	s.monitor = newMonitor(p.Monitor)
	s.restoreHeld()
	s.net = newNetwork(p)
	s.take(sc)
	s.followSettings()
	for _, a := range s.card.UnitSets() {
		if r, ok := s.ups.Check(a); ok && r.Status == snap.Done && device.Keeps(a) { // it may be another unit now
			s.ups.Apply(0, a)
		}
	}
	s.ups.SetLoad(s.load(0))
	s.refresh(0)
	s.card.Start()
	s.holdQuirks(p.Card.Quirks)
	s.takeQuirks(0)
}

// newHosts makes the groups and hosts, which all units have in common.
func (s *Site) newHosts(p *plan.Plan) {
	if !s.leads() {
		s.groups, s.hosts = s.lead().groups, s.lead().hosts
		return
	}
	s.groups, s.hosts = make([]group, len(p.Groups)), make([]host, len(p.Hosts))
	for i := range p.Groups {
		s.groups[i] = newGroup(&p.Groups[i], p.OutletGroup(i))
	}
	for i := range p.Hosts {
		s.hosts[i] = newHost(&p.Hosts[i])
	}
	s.wires = newWires(p)
}

// note records an event that nobody decides by at the present tick.
func (s *Site) note(subject, text string) { s.says(snap.What{}, subject, text) }

// says records an event at the present tick.
func (s *Site) says(what snap.What, subject, text string) {
	l := s.lead()
	what.Unit = s.plan.Unit
	l.events = append(l.events, Event{Tick: s.now, Subject: s.subject(what.Kind, subject), Text: text, What: what})
	s.touch()
}

// touch says that something changed, so that the instant has to be gone through
// once more.
func (s *Site) touch() {
	s.look()
	if s.bond != nil {
		for _, u := range s.bond.units {
			u.look()
		}
	}
}

func (s *Site) look() { s.dirty, s.stale, s.shifted, s.stirred = true, true, true, true }

// untouched is the feed of the bypass as the plan has it, nil if something has
// befallen it here.
func (s *Site) untouched() *utility {
	if s.now > 0 || s.second.touched {
		return nil
	}
	return s.second
}

// Now is the tick of the last settled instant.
func (s *Site) Now() vtime.Tick { return s.now }

// View is the site at the last settled instant, or at the last step tried. It
// is valid until the next call of any method.
func (s *Site) View() *snap.Site { return &s.view }

// Boots counts the starts of the card, the one that has been begun included.
func (s *Site) Boots() uint32 { return s.card.Boots() }

// Filled is a number, more than 0, that is another one whenever the view has been
// written anew.
func (s *Site) Filled() uint64 {
	n := s.filled
	for _, u := range s.others() {
		n += u.filled
	}
	return n
}

// Take hands over the events and effects since the last call. They are valid
// until the next one.
func (s *Site) Take() ([]Event, []snap.Effect) {
	s.keepWhatIsDue()
	s.takeOthers()
	events, effects := s.events, s.effects
	s.events, s.effects = s.events[:0], s.effects[:0]
	return events, effects
}

// emit has somebody outside do something.
func (s *Site) emit(e snap.Effect) { s.effects = append(s.effects, e) }

// keepWhatIsDue has somebody outside write down what the card has to keep.
func (s *Site) keepWhatIsDue() {
	if s.energyDue() {
		s.keepEnergy()
	}
	if k := s.card.Keep(); k != nil {
		s.emit(snap.Effect{Kind: snap.EffectKeep, Keep: k})
	}
}
