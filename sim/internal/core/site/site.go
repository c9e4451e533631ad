package site

import (
	"strings"

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

	informs *informs // nil until one was acknowledged or given up, or the link loses packets

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
	if p.Network.LossPct > 0 {
		s.losing(p.Network.LossPct)
	}
	s.take(sc)
	s.followSettings()
	s.startProcesses()
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
	l.events = append(l.events, Event{Tick: s.now, Subject: s.subject(subject), Text: text, What: what})
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

// keepWhatIsDue has somebody outside write down what the card has to keep.
func (s *Site) keepWhatIsDue() {
	if s.energyDue() {
		s.keepEnergy()
	}
	if k := s.card.Keep(); k != nil {
		s.effects = append(s.effects, snap.Effect{Kind: snap.EffectKeep, Keep: k})
	}
}

// Next is the next instant to stop at: the next deadline, or a grid that is
// fine after a disturbance and coarse at rest. It depends on simulated state
// only.
func (s *Site) Next() vtime.Tick {
	next := s.ownNext()
	for _, u := range s.others() {
		next = min(next, u.ownNext())
	}
	return next
}

func (s *Site) ownNext() vtime.Tick {
	step := s.ups.Grid()
	if s.now-s.disturbed < 2*vtime.Second {
		step = min(step, 100*vtime.Millisecond)
	}
	if s.room.cfg != nil {
		step = min(step, roomGrid)
	}
	grid := s.now - s.now%step + step // does not depend on stops in between
	return max(s.now+1, min(grid, s.deadline()))
}

func (s *Site) deadline() vtime.Tick {
	next := min(s.ups.Deadline(s.now), s.card.Deadline(s.now), s.policy.next, s.monitor.deadline(), s.line.next(),
		s.utility.deadline(), s.second.deadline(), s.genset.deadline(), s.feeds.sampleAt, s.room.backAt, s.past.next, s.hostsDue, s.servers.deadline(), s.logins.deadline())
	for i := range s.groups {
		next = min(next, s.groups[i].deadline())
	}
	next = min(next, s.shedDue())
	next = min(next, s.switchesDue(s.now), s.wireDue())
	for i := range s.bodies {
		next = min(next, s.bodies[i].next, s.places[i].until)
	}
	for i := range s.contacts {
		next = min(next, s.contacts[i].flipAt)
	}
	for i := range s.listens {
		next = min(next, s.listenAt(i))
	}
	for i := range s.timeServers {
		next = min(next, s.timeServers[i].deadline())
	}
	return next
}

// Try shows the site dt after the last settled instant, all switches as they
// are, in View.
func (s *Site) Try(dt vtime.Tick) *snap.Site {
	for _, u := range s.others() {
		u.tryOwn(dt)
	}
	return s.tryOwn(dt)
}

func (s *Site) tryOwn(dt vtime.Tick) *snap.Site {
	t := &s.tried
	t.physics = s.ups.Physics
	t.flows = s.ups.Advance(&t.physics, dt)
	t.motion = s.move(s.motion, &s.ups.Physics, &t.physics, t.flows, dt)
	t.dt = dt
	s.fillMoving(&t.physics, &t.motion, t.flows, s.now+dt)
	return &s.view
}

// Signature changes its value when something has to be done or shown without
// any event: see [device.UPS.Signature] for the unit, and what it and others make
// of a supply that moves, the rules of outlet groups, and all that of further units.
type Signature struct{ Unit, Supply, Groups, Others uint64 }

// Signature is that of the last step tried.
func (s *Site) Signature() Signature {
	sig := s.triedSignature()
	for _, u := range s.others() {
		sig.Others = mixed(sig.Others, u.triedSignature())
	}
	return sig
}

func (s *Site) triedSignature() Signature {
	return s.signature(&s.tried.physics, &s.tried.motion, s.now+s.tried.dt)
}

// Present is the signature at the last settled instant.
func (s *Site) Present() Signature {
	sig := s.presentSignature()
	for _, u := range s.others() {
		sig.Others = mixed(sig.Others, u.presentSignature())
	}
	return sig
}

func (s *Site) presentSignature() Signature { return s.signature(&s.ups.Physics, &s.motion, s.now) }

func (s *Site) signature(p *device.Physics, m *motion, t vtime.Tick) Signature {
	sig := Signature{Unit: s.ups.Signature(p), Groups: s.sightOfRules(p)}
	if s.moves() {
		sig.Supply = s.sight(t, m)
	}
	return sig
}

// Commit takes the last step tried.
func (s *Site) Commit() {
	s.commitOwn()
	for _, u := range s.others() {
		u.commitOwn()
	}
}

func (s *Site) commitOwn() {
	s.ups.Physics, s.motion, s.flows = s.tried.physics, s.tried.motion, s.tried.flows
	s.now += s.tried.dt
}

// Rest shows the last settled instant in View again, after a step that was only
// tried.
func (s *Site) Rest() { s.show(s.now) }

// show writes the views of all units at the settled instant now.
func (s *Site) show(now vtime.Tick) {
	for _, u := range s.others() {
		u.fill(&u.ups.Physics, u.flows, now)
	}
	s.fill(&s.ups.Physics, s.flows, now)
}

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
	before := s.card.Renewals()
	if s.card.Due(now, state, s.notify) {
		counted := s.ups.ShutdownAt() != vtime.Never
		s.ups.AgentRestarted(now, s.plan.Card.RestartAborts)
		if counted && s.ups.ShutdownAt() == vtime.Never {
			s.card.CountdownLost()
		}
		s.recount()
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
		s.fill(&s.ups.Physics, s.flows, now)
		s.card.Sample(now, &s.view.Device)
		s.touch()
	}
	s.stale = s.stale || s.card.Renewals() != before
}

func (s *Site) notify(n snap.Notification) {
	s.effects = append(s.effects, snap.Effect{Kind: snap.EffectNotify, Notification: n})
	if len(s.plan.Peers) > 0 {
		s.countHeard(n)
	}
	if s.monitor != nil && s.hasReceiver(n) {
		s.hears(n)
	}
	about := s.about(n)
	s.toSinks(n, about)
	s.says(snap.What{Kind: snap.WhatNotify, Notify: n.Kind}, "notify", strings.TrimSuffix(n.Kind.String()+" "+about, " "))
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

// fill writes the view at the settled instant now.
func (s *Site) fill(p *device.Physics, f device.Flows, now vtime.Tick) {
	s.fillMoving(p, &s.motion, f, now)
}

// fillMoving writes the view: what changes only at instants if something
// happened, and always what the physics move.
func (s *Site) fillMoving(p *device.Physics, m *motion, f device.Flows, now vtime.Tick) {
	v := &s.view
	if s.stale {
		s.stale = false
		s.fillStates(v)
	} else if s.shown.tick == now && s.shown.changes == s.ups.Changes() && s.shown.flows == f && s.shown.motion == *m {
		return // the physics move with time, and else only with a change that is counted
	}
	s.shown.tick, s.shown.flows, s.shown.motion, s.shown.changes = now, f, *m, s.ups.Changes()
	s.filled++
	v.Tick = now
	s.ups.Readings(&v.Device, p, f)
	s.ups.Truth(v, p, f)
	v.Power.BatteryWh = s.storedAt - s.ups.StoredWh(p)
	v.Room = s.room.view(p, m)
	if s.moves() {
		s.fillSupply(v, now, m)
	}
}

func (s *Site) fillStates(v *snap.Site) {
	v.Held = s.held
	if s.bond != nil && s.leads() {
		v.Units = s.bond.views
	}
	v.Unit = s.plan.UnitName
	v.Start, v.PeakPct = s.plan.Start, s.peakPct
	s.viewNetwork(&v.Net)
	s.ups.View(&v.Device)
	s.card.View(&v.Device)
	v.Sent = s.card.Sent()
	v.Acked, v.Unacked = s.delivery()
	v.Posts, v.Warned = s.card.Posts(), s.card.Warned()
	v.Sinks = s.viewSinks()
	s.weighGroups()
	v.SignIns = s.card.SignIns()
	v.SignIns.Last, v.SignIns.Took = s.logins.last, s.logins.took
	v.Outlets = s.seenOutlets()
	v.Energy = s.energy
	s.fillSurroundings(&v.Device)
	v.Policy, v.Shutdowns, v.Called, v.Monitor = s.policy.stage, uint32(s.policy.begun), s.policy.called, s.monitor.view()
	v.Supply = snap.Supply{
		Switch: s.genset.position, Generator: s.genset.state,
		Events: s.feeds.events, NotBorne: s.feeds.notBorne,
	}
	for i := range s.hosts {
		v.Hosts[i] = s.hosts[i].view()
	}
	for i := range s.groups {
		v.Groups[i] = s.groupView(i)
	}
}
