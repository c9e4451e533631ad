package site

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/voltage"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/mains"
)

// feeds is how the site's supply stands: what the switch passes on, and what the
// unit and the groups past it were last told of it. A supply that moves by itself
// is passed on every so often, and to the tick when somebody judges it otherwise.
type feeds struct {
	told     wave
	second   wave            // likewise of the bypass's own feed
	sampleAt vtime.Tick      // when it is passed on next; Never: it does not move
	live     bool            // enough for a host: see liveShare
	broken   bool            // the unit's input breaker is open
	watch    []voltage.Watch // of each of lines; nil until the supply was another
	lines    int
	events   int
	notBorne int
}

// liveShare is the voltage, as a share of nominal, from which a machine works
// straight from the supply: the ITI curve has it bear 70 % for half a second and
// less for 20 ms; common supplies bear it for ever. One that gave up wants
// backLive before it starts again.
const (
	liveShare = 0.7
	backLive  = 0.8
)

// Time between two samples of a supply that moves: of a generator that wanders
// or catches up, of one that runs, and of a drift.
const (
	sampleFinely   = 100 * vtime.Millisecond
	sampleDrift    = vtime.Second
	sampleCoarsely = 10 * vtime.Second
)

func newFeeds(p *plan.Plan) feeds {
	return feeds{
		told: even(p.Source.Volts, p.Source.Hz), second: even(p.Source.Volts, p.Source.Hz), sampleAt: vtime.Never,
		live: true, lines: max(p.UPS.LinesIn, 1),
	}
}

// supplyAt is what the switch passes on at t under m, if nothing is done until
// then.
func (s *Site) supplyAt(t vtime.Tick, m *motion) wave {
	switch g := s.feeder().genset; g.position {
	case snap.OnUtility:
		return s.utility.at(t)
	case snap.OnGenerator:
		return g.at(t, s.feederMotion(m))
	}
	return wave{}
}

// feeder is the unit whose generator and switch feed this one: the first, or itself.
func (s *Site) feeder() *Site {
	if s.plan.SharedSource {
		return s.lead()
	}
	return s
}

// feederMotion is what moves there while m, which is settled or tried, moves here.
func (s *Site) feederMotion(m *motion) *motion {
	switch f := s.feeder(); {
	case f == s:
		return m
	case m == &s.tried.motion:
		return &f.tried.motion
	default:
		return &f.motion
	}
}

// moves says whether any supply changes by itself between two instants.
func (s *Site) moves() bool {
	return s.utility.drifts() || s.second.drifts() || s.feeder().genset.turns()
}

func (s *Site) sampleEvery(now vtime.Tick) vtime.Tick {
	switch f := s.feeder(); {
	case f.genset.unsteady(now, &f.motion):
		return sampleFinely
	case s.utility.drifts(), s.second.drifts():
		return sampleDrift
	}
	return sampleCoarsely
}

// runSupply brings utility, generator and switch up to now, and passes on what
// they deliver.
func (s *Site) runSupply(now vtime.Tick) {
	if s.utility.due(now) && !s.plan.SharedSource {
		s.note("source", "disturbance over")
	}
	if s.second.due(now) {
		s.note("bypass source", "disturbance over")
	}
	s.runGenset(now)
	w, second := s.supplyAt(now, &s.motion), s.second.at(now)
	changed := w != s.feeds.told || second != s.feeds.second
	if changed && (!s.moves() || now >= s.feeds.sampleAt || s.views(&w, &second) != s.views(&s.feeds.told, &s.feeds.second)) {
		s.feed(now, w, second)
	}
	s.feeds.sampleAt = vtime.Never
	if s.moves() {
		every := s.sampleEvery(now)
		s.feeds.sampleAt = now - now%every + every
	}
}

// sight is how everybody judges all supplies at t under m.
func (s *Site) sight(t vtime.Tick, m *motion) uint64 {
	w, second := s.supplyAt(t, m), s.second.at(t)
	bits := s.views(&w, &second)
	g := s.genset
	if g.cfg == nil {
		return bits
	}
	nominal := &s.plan.Source
	for i, source := range []struct {
		w   wave
		was bool
	}{{s.utility.at(t), g.utilityOK}, {g.at(t, m), g.ownOK}} {
		if g.within(&source.w, nominal.Volts, nominal.Hz, source.was) {
			bits |= 1 << (62 + i)
		}
	}
	return bits | g.danger(t, m, nominal)<<59
}

// fillSupply shows a supply that moves as it is, not as it was last passed on.
func (s *Site) fillSupply(v *snap.Site, now vtime.Tick, m *motion) {
	w, second := s.supplyAt(now, m), s.second.at(now)
	in, by := s.atInput(&w), s.atBypass(&w, &second)
	v.Supply.LoadPct = 0
	if s.feeder().genset.turns() {
		v.Supply.LoadPct = 100 * s.feederMotion(m).burden.Load
	}
	v.BypassFeed = snap.BypassFeed{Volts: by.Volts[0], Hz: by.Hz}
	v.Feed.Hz = in.Hz
	for i := range v.Feed.Lines {
		v.Feed.V[i] = in.Volts[i]
	}
	v.Feed.Volts = v.Feed.V[0]
}

// views is how everybody who judges the supply judges w and the second feed, one
// bit each.
func (s *Site) views(w, second *wave) uint64 {
	bits := s.ups.Judge(s.atInput(w), s.atBypass(w, second)) << 8 // it has no more than 16
	for i, v := range w.volts {
		switch share := v / s.plan.Source.Volts; {
		case share <= 0.9:
			bits |= 1 << (2 * i)
		case share > 1.1:
			bits |= 2 << (2 * i)
		}
	}
	if s.bears(w) {
		bits |= 1 << 6
	}
	return bits
}

// bears says whether a machine works straight from w.
func (s *Site) bears(w *wave) bool {
	least := liveShare * s.plan.Source.Volts
	if !s.feeds.live {
		least = backLive * s.plan.Source.Volts
	}
	for _, v := range w.volts[:s.feeds.lines] {
		if v < least {
			return false
		}
	}
	return true
}

// atInput is w as it reaches the unit.
func (s *Site) atInput(w *wave) device.Supply {
	if s.feeds.broken {
		return device.Supply{Lines: 3}
	}
	return device.Supply{Volts: w.volts, Lines: 3, Hz: w.hz, Generator: s.feeder().genset.position == snap.OnGenerator}
}

// atBypass is what of w and the second feed reaches the unit's bypass.
func (s *Site) atBypass(w, second *wave) device.Supply {
	switch s.plan.UPS.Bypass.Supply {
	case plan.BypassSecond:
		return device.Supply{Volts: second.volts, Lines: 3, Hz: second.hz}
	case plan.BypassSite:
		return device.Supply{Volts: w.volts, Lines: 3, Hz: w.hz}
	}
	return s.atInput(w)
}

// feed passes w on: to the groups past the unit first, so that a host with two
// supplies is seen to have lost one, then to the unit.
func (s *Site) feed(now vtime.Tick, w, second wave) {
	f := &s.feeds
	f.told, f.second = w, second
	s.watchVoltage(now, &w)
	if live := s.bears(&w); live != f.live {
		f.live = live
		s.coolingSupply(now, live)
		if s.leads() {
			s.switchMainsGroups(now, live)
		}
	}
	s.feedUnit(now)
}

func (s *Site) feedUnit(now vtime.Tick) {
	s.stale = true
	f := &s.feeds
	if gap := s.ups.SetSupply(now, s.atInput(&f.told), s.atBypass(&f.told, &f.second)); gap > 0 {
		s.gapHosts(now, gap)
	}
}

// watchVoltage names what is wrong with the supply once it is over.
func (s *Site) watchVoltage(now vtime.Tick, w *wave) {
	if s.feeds.watch == nil {
		s.feeds.watch = slices.Repeat([]voltage.Watch{{Volts: s.plan.Source.Volts, Hz: s.plan.Source.Hz}}, s.feeds.lines)
	}
	for i := range s.feeds.lines {
		v, ended := s.feeds.watch[i].See(now, snap.Feed{Volts: w.volts[i]})
		if !ended {
			continue
		}
		s.feeds.events++
		borne := "borne"
		if !v.Rides {
			s.feeds.notBorne++
			borne = "not borne"
		}
		if s.plan.SharedSource {
			continue // the first unit has told
		}
		line := ""
		if s.feeds.lines > 1 {
			line = fmt.Sprintf(" on line %d", i+1)
		}
		s.note("source", fmt.Sprintf("%s%s: %.1f %% for %.3f s, %s by equipment on the ITI curve",
			v.Class, line, 100*v.Share, v.Seconds(), borne))
	}
}

// noteGap says so if a gap of the output is one that common equipment does not bear.
func (s *Site) noteGap(gap vtime.Tick) {
	if mains.Ride(0, gap.Seconds()) {
		return
	}
	class := mains.Classify(0, gap.Seconds(), s.plan.Source.Hz)
	s.note("output", fmt.Sprintf("%s of %d ms, not borne by equipment on the ITI curve", class, gap))
}

// setInput opens or closes the breaker at the unit's input.
func (s *Site) setInput(now vtime.Tick, closed bool) {
	s.feeds.broken = !closed
	s.note("bench", "input breaker of the unit "+snap.Either(closed, "closed", "open"))
	s.feedUnit(now)
}
