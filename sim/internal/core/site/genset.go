package site

import (
	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/mains"
	"ridethrough/sim/internal/phys/power"
)

// genset is the standby generator and the changeover switch before it. Without a
// generator in the plan the switch stays on the utility.
type genset struct {
	cfg   *plan.Generator
	sw    plan.Changeover
	model mains.Generator
	law   power.Overload

	state  snap.GeneratorState
	broken bool
	acts   vtime.Tick // next change of state by time: order to start, voltage, stop
	since  vtime.Tick // when voltage came
	low    vtime.Tick // it trips then, for want of voltage or frequency

	position snap.SwitchPosition
	to       snap.SwitchPosition // where it closes to
	closes   vtime.Tick
	accepts  vtime.Tick // load goes to the generator then
	returns  vtime.Tick // load goes back then

	utilityOK, ownOK bool // within the window of the switch
}

// noGenset is that of every site without a generator; nothing befalls it.
var noGenset = genset{
	utilityOK: true,
	acts:      vtime.Never, low: vtime.Never, closes: vtime.Never, accepts: vtime.Never, returns: vtime.Never,
}

func newGenset(src plan.Source) *genset {
	if src.Generator == nil {
		return &noGenset
	}
	g := &genset{
		cfg: src.Generator, sw: src.Changeover, utilityOK: true,
		acts: vtime.Never, low: vtime.Never, closes: vtime.Never, accepts: vtime.Never, returns: vtime.Never,
	}
	c := g.cfg
	g.state, g.broken = snap.GeneratorStopped, c.Failed
	g.law = device.OverloadLaw(c.Overload)
	g.model = mains.Generator{
		Volts: src.Volts, Hz: src.Hz, SettleS: c.Settles.Seconds(), PeriodS: c.Period.Seconds(),
		WanderV: c.WanderV, WanderHz: c.WanderHz, DroopHz: c.DroopHz,
		StepHz: c.StepHz, StepV: c.StepV, RecoverS: c.Recovers.Seconds(),
	}
	return g
}

// turns says whether there is voltage at its terminals.
func (g *genset) turns() bool {
	return g.state == snap.GeneratorRunning || g.state == snap.GeneratorCooling
}

// at is what it delivers at t under m.
func (g *genset) at(t vtime.Tick, m *motion) wave {
	if !g.turns() {
		return wave{}
	}
	return even(g.model.At((t - g.since).Seconds(), m.burden))
}

// unsteady says whether voltage and frequency still move at now.
func (g *genset) unsteady(now vtime.Tick, m *motion) bool {
	still := max(m.burden.Load, m.burden.Felt, m.burden.Caught)-min(m.burden.Load, m.burden.Felt, m.burden.Caught) < 0.001
	return g.turns() && (now-g.since < g.cfg.Settles || !still)
}

// within judges a supply by the window of the switch. What was good leaves it at
// its limits; what was bad comes back a little further in.
func (g *genset) within(w *wave, volts, hz float64, was bool) bool {
	low, high := g.sw.LowV, g.sw.HighV
	if !was {
		low, high = low+backShare, high-backShare
	}
	for _, v := range w.volts {
		if v < low*volts || v > high*volts {
			return false
		}
	}
	return w.hz >= g.sw.LowHz*hz && w.hz <= g.sw.HighHz*hz
}

// backShare is how far back inside a limit the switch wants the voltage, as a
// share of nominal.
const backShare = 0.02

func (g *genset) deadline() vtime.Tick { return min(g.acts, g.low, g.closes, g.accepts, g.returns) }

// runGenset lets generator and switch act at now.
func (s *Site) runGenset(now vtime.Tick) {
	g := s.genset
	if g.cfg == nil {
		return
	}
	s.judgeSources(now)
	s.protectEngine(now)
	s.runEngine(now)
	s.runSwitch(now)
}

// judgeSources starts and stops the times that depend on how good both are.
func (s *Site) judgeSources(now vtime.Tick) {
	g := s.genset
	utility, own := s.utility.at(now), g.at(now, &s.motion)
	wasUtility, wasOwn := g.utilityOK, g.ownOK
	g.utilityOK = g.within(&utility, s.plan.Source.Volts, s.plan.Source.Hz, wasUtility)
	g.ownOK = g.turns() && g.within(&own, s.plan.Source.Volts, s.plan.Source.Hz, wasOwn)
	switch {
	case g.utilityOK && !wasUtility && g.state == snap.GeneratorStopped:
		g.acts = vtime.Never // it was not worth starting
	case !g.utilityOK && wasUtility && g.state == snap.GeneratorStopped:
		g.acts = now + g.cfg.StartAfter
	case !g.utilityOK && wasUtility && g.state == snap.GeneratorCooling:
		s.generator(snap.GeneratorRunning, vtime.Never)
	}
	g.accepts = armed(now, g.accepts, g.sw.Accept, g.position == snap.OnUtility && !g.utilityOK && g.ownOK)
	g.returns = armed(now, g.returns, g.sw.Watch, g.position == snap.OnGenerator && g.utilityOK)
}

// armed is the end of a time of length that runs while wanted holds.
func armed(now, at, length vtime.Tick, wanted bool) vtime.Tick {
	switch {
	case !wanted:
		return vtime.Never
	case at == vtime.Never:
		return now + length
	}
	return at
}

// runEngine takes the generator from one state to the next.
func (s *Site) runEngine(now vtime.Tick) {
	g := s.genset
	if g.acts > now {
		return
	}
	g.acts = vtime.Never
	switch g.state {
	case snap.GeneratorStopped:
		s.generator(snap.GeneratorStarting, now+g.cfg.StartTakes)
	case snap.GeneratorStarting:
		if g.broken {
			s.generator(snap.GeneratorFailed, vtime.Never)
			return
		}
		g.since = now
		s.motion.burden = mains.Burden{}
		s.generator(snap.GeneratorRunning, vtime.Never)
		s.restWhenIdle(now)
	case snap.GeneratorCooling:
		s.generator(snap.GeneratorStopped, vtime.Never)
	}
}

// restWhenIdle sends a generator to cool down that nobody needs any longer.
func (s *Site) restWhenIdle(now vtime.Tick) {
	g := s.genset
	if g.state == snap.GeneratorRunning && g.utilityOK && g.position == snap.OnUtility {
		s.generator(snap.GeneratorCooling, now+g.cfg.CoolsDown)
	}
}

func (s *Site) generator(to snap.GeneratorState, acts vtime.Tick) {
	s.genset.state, s.genset.acts = to, acts
	s.says(snap.What{Kind: snap.WhatGenerator}, "generator", to.String())
}

// runSwitch moves the changeover switch. It leaves a source only for one that is
// good, unless the one that it is on has failed.
func (s *Site) runSwitch(now vtime.Tick) {
	g := s.genset
	switch {
	case g.closes <= now:
		g.closes = vtime.Never
		s.turnSwitch(g.to)
		s.restWhenIdle(now)
	case g.accepts <= now:
		s.openSwitch(now, snap.OnGenerator)
	case g.returns <= now, g.position == snap.OnGenerator && !g.turns() && g.utilityOK:
		s.openSwitch(now, snap.OnUtility)
	case g.position == snap.OnUtility:
		s.restWhenIdle(now)
	}
}

func (s *Site) openSwitch(now vtime.Tick, to snap.SwitchPosition) {
	g := s.genset
	g.accepts, g.returns = vtime.Never, vtime.Never
	g.to, g.closes = to, now+g.sw.Gap
	s.turnSwitch(snap.SwitchOpen)
}

func (s *Site) turnSwitch(to snap.SwitchPosition) {
	s.genset.position = to
	s.note("changeover", to.String())
}

// setGenerator fails or mends the generator. One that fails while it turns stops
// at once; one that is mended, or reset after a trip, is started again if it is
// needed.
func (s *Site) setGenerator(now vtime.Tick, working bool) {
	g := s.genset
	if g.cfg == nil {
		s.note("bench", "there is no generator")
		return
	}
	g.broken = !working
	switch {
	case !working && g.turns():
		s.generator(snap.GeneratorFailed, vtime.Never)
	case working && (g.state == snap.GeneratorFailed || g.state == snap.GeneratorTripped):
		s.motion.strain = 0
		s.generator(snap.GeneratorStopped, vtime.Never)
		if !g.utilityOK {
			g.acts = now + g.cfg.StartAfter
		}
	}
	s.touch()
}
