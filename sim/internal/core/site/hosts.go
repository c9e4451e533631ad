package site

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// host is one protected machine.
type host struct {
	cfg     *plan.Host
	drawW   float64
	stop    vtime.Tick
	hangs   bool
	channel snap.Channel
	state   snap.HostState
	powered bool
	refused uint32
	// starveAt is when a host without any live outlet has used up what it held;
	// Never while one is live.
	starveAt vtime.Tick
	told     bool       // to stop; a booting host obeys once it runs
	until    vtime.Tick // end of stopping or booting; Never when none is due
	since    vtime.Tick
	ended    string
	starts   int
	stops    int
	cuts     int
}

func newHost(cfg *plan.Host) host {
	return host{
		cfg: cfg, drawW: cfg.DrawW, stop: cfg.Stop, hangs: cfg.Hangs, channel: cfg.Channel,
		state: snap.HostRunning, powered: true, until: vtime.Never, starveAt: vtime.Never,
	}
}

func (h *host) isProcess() bool { return len(h.cfg.Process) > 0 }

// at work or on its way there or away: what a loss of power would cut.
func (h *host) alive() bool {
	return h.state == snap.HostRunning || h.state == snap.HostStopping || h.state == snap.HostBooting
}

func (h *host) draw() float64 {
	switch {
	case !h.powered:
		return 0
	case h.alive():
		return h.drawW
	}
	return h.cfg.IdleW
}

func (h *host) view() snap.Host {
	return snap.Host{
		Name: h.cfg.Name, State: h.state, Powered: h.powered, Ended: h.ended,
		Starts: h.starts, Stops: h.stops, Cuts: h.cuts, DrawW: h.draw(), Since: h.since,
		Channel: h.channel, Refused: h.refused,
	}
}

func (s *Site) enter(i int, state snap.HostState, until vtime.Tick) {
	h := &s.hosts[i]
	h.state, h.since, h.until = state, s.now, until
	s.tellOfHost(i, snap.What{Kind: snap.WhatHost, Host: state}, state.String())
}

// tellOfHost records an event of host i.
func (s *Site) tellOfHost(i int, what snap.What, text string) {
	what.Of = i
	s.says(what, "host "+s.hosts[i].cfg.Name, text)
}

// powerHosts tells the hosts that a group feeds that it became live or dead.
func (s *Site) powerHosts(now vtime.Tick, group int) {
	for i := range s.hosts {
		if slices.Contains(s.hosts[i].cfg.Groups, group) {
			s.power(now, i, s.groups[group].cfg.FromMains)
		}
	}
}

// power has a host go by its live outlets. The output of the unit, once off, is
// taken to be dead for longer than anybody holds up; mains may come back, so
// that a host lives for its hold-up time without them.
func (s *Site) power(now vtime.Tick, i int, mains bool) {
	h := &s.hosts[i]
	switch {
	case s.fed(h):
		h.starveAt = vtime.Never
		if !h.powered {
			h.powered = true
			s.powerUp(now, i)
		}
	case h.powered && h.starveAt == vtime.Never && mains:
		h.starveAt = now + h.cfg.HoldUp + 1
	case h.powered && !mains:
		h.starveAt = now
	}
	s.starve(now)
}

// outlets counts the live outlets that feed h, by what feeds them.
func (s *Site) outlets(h *host) (ups, past int) {
	for _, g := range h.cfg.Groups {
		switch {
		case !s.groups[g].on:
		case s.own(g):
			ups++
		default:
			past++
		}
	}
	return ups, past
}

// fed says whether enough of h's supplies are live for it to work.
func (s *Site) fed(h *host) bool {
	ups, past := s.outlets(h)
	return ups+past >= h.cfg.LeastSupplies()
}

// runHosts lets the hosts act. While nothing happens none does before its time.
func (s *Site) runHosts(now vtime.Tick) {
	if s.leads() && (s.stirred || s.hostsDue <= now) {
		s.starve(now)
		s.ageHosts(now)
	}
}

// restHosts notes when the first host will act, once all have been gone through.
func (s *Site) restHosts() {
	if !s.stirred {
		return
	}
	s.stirred, s.hostsDue = false, vtime.Never
	if !s.leads() {
		return
	}
	for i := range s.hosts {
		s.hostsDue = min(s.hostsDue, s.hosts[i].until, s.hosts[i].starveAt)
	}
}

// starve ends the hosts that have used up what they held.
func (s *Site) starve(now vtime.Tick) {
	for i := range s.hosts {
		if h := &s.hosts[i]; h.starveAt <= now {
			h.starveAt, h.powered = vtime.Never, false
			s.touch()
			s.powerDown(i)
		}
	}
}

func (s *Site) powerDown(i int) {
	h := &s.hosts[i]
	switch {
	case h.alive():
		s.cut(i)
	case h.state == snap.HostStopped:
		s.enter(i, snap.HostOff, vtime.Never)
	}
}

func (s *Site) cut(i int) {
	h := &s.hosts[i]
	if h.isProcess() && h.state != snap.HostBooting {
		s.lead().emit(snap.Effect{Kind: snap.EffectKill, Host: h.cfg.Name})
	}
	h.ended = "cut"
	h.cuts++
	s.enter(i, snap.HostCut, vtime.Never)
}

// powerUp follows the host's own rule for the return of power.
func (s *Site) powerUp(now vtime.Tick, i int) {
	h := &s.hosts[i]
	boots := h.cfg.Restart == plan.RestartOn ||
		h.cfg.Restart == plan.RestartLast && h.state == snap.HostCut
	if !boots {
		if h.state != snap.HostOff {
			s.enter(i, snap.HostOff, vtime.Never)
		}
		return
	}
	h.told = false
	s.enter(i, snap.HostBooting, now+h.cfg.Boot)
}

// gapHosts puts a dead time of the output to every host that lives on it alone:
// whoever cannot hold up loses its run and starts again.
func (s *Site) gapHosts(now vtime.Tick, lasts vtime.Tick) {
	s.noteGap(lasts)
	own := gap{now, lasts}
	s.remember(own)
	for i := range s.hosts {
		h := &s.hosts[i]
		ups, _ := s.outlets(h)
		dead := s.gapOf(h, own)
		if ups == 0 || dead <= h.cfg.HoldUp || !h.alive() || h.state == snap.HostBooting && h.since == now {
			continue // or another unit's gap has just cut it
		}
		s.tellOfHost(i, snap.What{Kind: snap.WhatHostGap}, fmt.Sprintf("a gap of %d ms is more than it holds up", dead))
		s.cut(i)
		s.powerUp(now, i)
	}
}

// gapOf is for how long fewer supplies of h are live than it needs, by the dead times that
// begin with own: those of several units on one feeder begin together.
func (s *Site) gapOf(h *host, own gap) vtime.Tick {
	var gaps []vtime.Tick
	for _, g := range h.cfg.Groups {
		if s.groups[g].on {
			gaps = append(gaps, s.gapAt(g, own))
		}
	}
	least := h.cfg.LeastSupplies()
	if len(gaps) < least {
		return vtime.Never
	}
	slices.Sort(gaps)
	return gaps[least-1]
}

// tell orders a host to stop. A real process is never told: it has to find out.
func (s *Site) tell(now vtime.Tick, i int) {
	h := &s.hosts[i]
	if h.isProcess() || h.told {
		return
	}
	h.told = true
	s.beginStop(now, i)
}

func (s *Site) beginStop(now vtime.Tick, i int) {
	h := &s.hosts[i]
	if h.state != snap.HostRunning {
		return
	}
	until := now + h.stop
	if h.hangs {
		until = vtime.Never
	}
	s.enter(i, snap.HostStopping, until)
}

// ageHosts ends stops and boots that have taken their time.
func (s *Site) ageHosts(now vtime.Tick) {
	for i := range s.hosts {
		h := &s.hosts[i]
		if h.until > now {
			continue
		}
		if !s.needsMet(h) { // looked at again when something happens
			h.until = vtime.Never
			s.tellOfHost(i, snap.What{Kind: snap.WhatHostWaits}, h.state.String()+" waits for what it needs")
			continue
		}
		s.finish(now, i)
	}
	s.wakeWaiting(now)
}

// wakeWaiting lets hosts go on whose needs have come back.
func (s *Site) wakeWaiting(now vtime.Tick) {
	for i := range s.hosts {
		h := &s.hosts[i]
		waits := h.until == vtime.Never && (h.state == snap.HostBooting || h.state == snap.HostStopping && !h.hangs)
		if waits && s.needsMet(h) {
			s.finish(now, i)
		}
	}
}

func (s *Site) finish(now vtime.Tick, i int) {
	h := &s.hosts[i]
	if h.state == snap.HostStopping {
		h.ended = "clean"
		h.stops++
		s.enter(i, snap.HostStopped, vtime.Never)
		return
	}
	h.starts++
	s.enter(i, snap.HostRunning, vtime.Never)
	s.startProcess(i)
	if h.told {
		s.beginStop(now, i)
	}
}

// needsMet says whether everything that h needs is at work: a host can neither
// come up nor stop cleanly without it. One that is on its way down still serves
// those that stop, up to the tick at which it has stopped.
func (s *Site) needsMet(h *host) bool {
	for _, n := range h.cfg.Needs {
		need := &s.hosts[n]
		serves := need.state == snap.HostStopping || need.state == snap.HostStopped && need.since == s.now
		if need.state != snap.HostRunning && !(serves && h.state == snap.HostStopping) {
			return false
		}
	}
	return true
}

func (s *Site) startProcess(i int) {
	if s.hosts[i].isProcess() {
		s.lead().emit(snap.Effect{Kind: snap.EffectSpawn, Host: s.hosts[i].cfg.Name, Run: s.hosts[i].starts})
	}
}

// startProcesses starts those that run from the beginning: once all units have said
// which of their groups are off.
func (s *Site) startProcesses() {
	for i := range s.hosts {
		if s.hosts[i].powered {
			s.startProcess(i)
		}
	}
}

// processEnded is told when a real process has ended by itself. Word of an
// earlier run comes too late: its machine has lost its power and started again.
func (s *Site) processEnded(i int, run, code int) {
	h := &s.hosts[i]
	if h.state != snap.HostRunning || run != h.starts {
		return
	}
	h.ended = "clean"
	h.stops++
	s.tellOfHost(i, snap.What{Kind: snap.WhatHostElse}, fmt.Sprintf("ended by itself with code %d", code))
	s.enter(i, snap.HostStopped, vtime.Never)
}
