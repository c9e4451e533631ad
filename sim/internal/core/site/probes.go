package site

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/rng"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/phys/num"
)

// probe is one environmental probe. It measures at its own times, multiples of
// its interval, and changes its state only then or with its cable.
type probe struct {
	cfg     *plan.Probe
	draw    func() float64
	follows float64 // share of the way to the room that its body goes in one interval
	bodyC   float64
	next    vtime.Tick
	unplug  bool

	view  snap.Probe
	level snap.ProbeState                    // that it would be in without the delay
	from  [snap.ProbeCritical + 1]vtime.Tick // since when it would be in each or a worse one; Never
}

func newProbe(cfg *plan.Probe, seed uint64, room snap.Room) probe {
	p := probe{cfg: cfg, draw: rng.Stream(seed, "probe/"+cfg.Name).Float64, follows: 1, bodyC: room.TempC + cfg.OffsetK}
	if cfg.Lag > 0 {
		p.follows = -num.Expm1(-cfg.Every.Seconds() / cfg.Lag.Seconds())
	}
	for i := range p.from {
		p.from[i] = vtime.Never
	}
	p.view = snap.Probe{Name: cfg.Name, HasHumidity: cfg.Humidity}
	p.show(room)
	return p
}

// runProbes lets the probes measure whose time has come.
func (s *Site) runProbes(now vtime.Tick) {
	for i := range s.probes {
		p := &s.probes[i]
		if p.next > now {
			continue
		}
		p.next = now - now%p.cfg.Every + p.cfg.Every
		if p.measure(s.room.view(&s.ups.Physics, &s.motion)) {
			s.touch()
		}
		s.judgeProbe(now, i)
	}
}

// measure takes one sample and says whether the reading has changed.
func (p *probe) measure(room snap.Room) bool {
	before := p.view
	p.bodyC += float64((room.TempC + p.cfg.OffsetK - p.bodyC) * p.follows)
	p.show(room)
	return p.view != before
}

// show makes the reading: the body's temperature with an error that is likelier
// small than large, in tenths, and whole percents.
func (p *probe) show(room snap.Room) {
	noise := float64((p.draw() + p.draw() - 1) * p.cfg.NoiseK) // drawn though the cable is out
	if p.unplug {
		return
	}
	p.view.TempC = math.Round(float64((p.bodyC+noise)*10)) / 10
	if p.cfg.Humidity {
		p.view.HumidityPct = math.Round(room.HumidityPct)
	}
}

// judgeProbe holds the reading against the limits. It gets worse after the delay,
// and better at once.
func (s *Site) judgeProbe(now vtime.Tick, i int) {
	p := &s.probes[i]
	p.level = p.levelNow()
	p.keepTime(now)
	state := p.level
	if p.level != snap.ProbeLost && p.view.State != snap.ProbeLost {
		state = min(p.level, max(p.view.State, p.outlasted(now)))
	}
	if state == p.view.State {
		return
	}
	kind := snap.NotifyProbeBetter
	if state > p.view.State {
		kind = snap.NotifyProbeAlert
	}
	s.card.Tell(snap.Notification{Kind: kind, Row: uint8(i + 1)})
	p.view.State, p.view.Since = state, now
	text := state.String()
	if state != snap.ProbeLost {
		text += fmt.Sprintf(" %.1f C", p.view.TempC)
	}
	s.note("probe "+p.cfg.Name, text)
	s.hearProbe(i)
}

// keepTime notes since when the reading has been at least as bad as each state.
func (p *probe) keepTime(now vtime.Tick) {
	for state := snap.ProbeWarn; state <= snap.ProbeCritical; state++ {
		if p.level < state || p.level == snap.ProbeLost {
			p.from[state] = vtime.Never
		} else if p.from[state] == vtime.Never {
			p.from[state] = now
		}
	}
}

// outlasted is the worst state that the reading has called for during the delay.
func (p *probe) outlasted(now vtime.Tick) snap.ProbeState {
	for state := snap.ProbeCritical; state > snap.ProbeNormal; state-- {
		if from := p.from[state]; from != vtime.Never && now-from >= p.cfg.Delay {
			return state
		}
	}
	return snap.ProbeNormal
}

// levelNow is the state that the reading calls for; a limit that was passed is left
// only by the hysteresis.
func (p *probe) levelNow() snap.ProbeState {
	c, t := p.cfg, p.view.TempC
	if p.unplug {
		return snap.ProbeLost
	}
	back := func(state snap.ProbeState) float64 {
		if p.level >= state && p.level != snap.ProbeLost {
			return c.HysteresisK
		}
		return 0
	}
	critical, warn := back(snap.ProbeCritical), back(snap.ProbeWarn)
	switch {
	case t > c.HighCriticalC-critical, t < c.LowCriticalC+critical:
		return snap.ProbeCritical
	case t > c.HighWarnC-warn, t < c.LowWarnC+warn:
		return snap.ProbeWarn
	}
	return snap.ProbeNormal
}

// plugProbe puts the cable of a probe in or pulls it out. Put in again, it shows
// the room with the next measurement.
func (s *Site) plugProbe(now vtime.Tick, i int, in bool) {
	p := &s.probes[i]
	p.unplug = !in
	s.note("bench", fmt.Sprintf("probe %s %s", p.cfg.Name, map[bool]string{true: "plugged in", false: "unplugged"}[in]))
	if in {
		p.bodyC = s.ups.Physics.RoomC + p.cfg.OffsetK
		return
	}
	s.judgeProbe(now, i)
}
