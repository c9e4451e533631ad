package site

import (
	"fmt"
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// watch is what the card makes of one probe that it was told of.
type watch struct {
	set    *snap.ProbeSetting
	body   int // that it reads, -1: none
	view   snap.Probe
	temp   gauge
	humid  gauge
	rise   gauge
	recent recent
	told   snap.ProbeState // of the last notification
}

// gauge holds one quantity against its limits.
type gauge struct {
	state snap.ProbeState
	level snap.ProbeState                    // that it would be in without the delay
	from  [snap.ProbeCritical + 1]vtime.Tick // since when it would be in each or a worse one; Never
}

func newGauge() (g gauge) {
	for i := range g.from {
		g.from[i] = vtime.Never
	}
	return g
}

// forget is what a watch is without a reading.
func (w *watch) forget() {
	w.temp, w.humid, w.rise = newGauge(), newGauge(), newGauge()
	w.recent = recent{}
}

// judge takes the reading of the probe, if there is one, and holds it against the
// limits. It gets worse after the delay, and better at once.
func (s *Site) judge(now vtime.Tick, w *watch) {
	if w.body < 0 || s.bodies[w.body].fresh {
		s.without(now, w)
		return
	}
	b, v := &s.bodies[w.body], &w.view
	before := *v
	v.TempC, v.HasHumidity, v.HumidityPct = w.set.Sends.ToC(b.temp), b.cfg.Humidity, b.humidityPct
	v.RiseK = w.recent.rise(now, w.set.RiseIn, v.TempC)
	delay, back := w.set.Delay, v.State >= snap.ProbeLost
	if back {
		delay = 0
	}
	temp, humid, rise := w.temp.next(now, &w.set.Temp, v.TempC, delay), snap.ProbeNormal, snap.ProbeNormal
	if v.HasHumidity {
		humid = w.humid.next(now, &w.set.Humid, v.HumidityPct, delay)
	}
	up := snap.NoLimits(w.set.Temp.Hysteresis)
	up.HighWarn = w.set.Rise
	rise = w.rise.next(now, &up, v.RiseK, delay)
	if back {
		w.temp.state, w.humid.state, w.rise.state = temp, humid, rise
		s.returned(now, w, before.State)
	} else {
		s.turn(now, w, &w.temp, temp, snap.CauseTemperature)
		s.turn(now, w, &w.humid, humid, snap.CauseHumidity)
		s.turn(now, w, &w.rise, rise, snap.CauseRise)
	}
	w.sum(now)
	if *v != before {
		s.touch()
	}
}

// sum is the state of the whole probe.
func (w *watch) sum(now vtime.Tick) {
	v := &w.view
	v.Temp, v.Humid, v.Rise = w.temp.state, w.humid.state, w.rise.state
	w.enter(now, max(v.Temp, v.Humid, v.Rise))
}

func (w *watch) enter(now vtime.Tick, state snap.ProbeState) {
	if w.view.State != state {
		w.view.State, w.view.Since = state, now
	}
}

// turn takes a quantity of w to another state, and tells of it.
func (s *Site) turn(now vtime.Tick, w *watch, g *gauge, to snap.ProbeState, cause snap.ProbeCause) {
	if to == g.state {
		return
	}
	worse := to > g.state
	g.state = to
	w.sum(now)
	s.tellProbe(now, w, worse, cause, to.String()+" "+w.figure(cause))
}

// figure is the reading that a change is about.
func (w *watch) figure(cause snap.ProbeCause) string {
	switch cause {
	case snap.CauseHumidity:
		return fmt.Sprintf("humidity %.0f %%", w.view.HumidityPct)
	case snap.CauseRise:
		return fmt.Sprintf("rise %.1f K in %s", w.view.RiseK, w.set.RiseIn.Duration())
	}
	return fmt.Sprintf("%.1f C", w.view.TempC)
}

// returned tells that there are readings again. Of a probe that was paired just now
// that is no news, unless it is beyond a limit.
func (s *Site) returned(now vtime.Tick, w *watch, from snap.ProbeState) {
	w.sum(now)
	cause := w.view.Cause()
	text := w.view.State.String() + " " + w.figure(cause)
	switch {
	case from != snap.ProbeUnpaired:
		s.tellProbe(now, w, false, snap.CauseCable, text)
	case w.view.State == snap.ProbeNormal:
		s.noteProbe(now, w, text)
	default:
		s.tellProbe(now, w, true, cause, text)
	}
}

// without takes w to the state of a probe that is not there.
func (s *Site) without(now vtime.Tick, w *watch) {
	state := snap.ProbeLost
	if w.set.ID == "" && !s.card.InForce().Surroundings.BySocket {
		state = snap.ProbeUnpaired
	}
	if w.view.State == state {
		return
	}
	w.forget()
	w.view.Temp, w.view.Humid, w.view.Rise = 0, 0, 0
	w.enter(now, state)
	s.tellProbe(now, w, true, snap.CauseCable, state.String())
}

// tellProbe says what became of a probe, in the trace, in the card's journal and to
// its receivers. That somebody has unpaired it is no alert.
func (s *Site) tellProbe(now vtime.Tick, w *watch, worse bool, cause snap.ProbeCause, text string) {
	v := &w.view
	kind := snap.NotifyProbeBetter
	switch {
	case v.State == snap.ProbeUnpaired:
	case worse:
		v.Alerts++
		kind = snap.NotifyProbeAlert
	case v.State == snap.ProbeNormal || cause != snap.CauseCable:
		v.Clears++
	}
	if v.State != snap.ProbeUnpaired {
		s.card.Tell(snap.Notification{Kind: kind, Row: uint8(s.rowOf(w) + 1), Cause: cause, Matters: max(probeMatters(w.told), probeMatters(v.State))})
	}
	w.told = v.State
	s.noteProbe(now, w, text)
	s.hearProbe(s.rowOf(w))
}

func (s *Site) noteProbe(now vtime.Tick, w *watch, text string) {
	s.note("probe "+w.set.Name, text)
	s.card.Record(now, "probe "+w.set.Name+": "+text)
}

// next is the state that a reading of x brings.
func (g *gauge) next(now vtime.Tick, l *snap.Limits, x float64, delay vtime.Tick) snap.ProbeState {
	g.level = g.calls(l, x)
	for state := snap.ProbeWarn; state <= snap.ProbeCritical; state++ {
		if g.level < state {
			g.from[state] = vtime.Never
		} else if g.from[state] == vtime.Never {
			g.from[state] = now
		}
	}
	return min(g.level, max(g.state, g.outlasted(now, delay)))
}

// outlasted is the worst state that the reading has called for during the delay.
func (g *gauge) outlasted(now, delay vtime.Tick) snap.ProbeState {
	for state := snap.ProbeCritical; state > snap.ProbeNormal; state-- {
		if from := g.from[state]; from != vtime.Never && now-from >= delay {
			return state
		}
	}
	return snap.ProbeNormal
}

// calls is the state that x calls for; a limit that was passed is left only by the
// hysteresis.
func (g *gauge) calls(l *snap.Limits, x float64) snap.ProbeState {
	back := func(state snap.ProbeState) float64 {
		if g.level >= state {
			return l.Hysteresis
		}
		return 0
	}
	critical, warn := back(snap.ProbeCritical), back(snap.ProbeWarn)
	switch {
	case above(x, l.HighCritical, critical), below(x, l.LowCritical, critical):
		return snap.ProbeCritical
	case above(x, l.HighWarn, warn), below(x, l.LowWarn, warn):
		return snap.ProbeWarn
	}
	return snap.ProbeNormal
}

func above(x float64, l snap.Limit, back float64) bool { return l.Set() && x > float64(l)-back }
func below(x float64, l snap.Limit, back float64) bool { return l.Set() && x < float64(l)+back }

// parts is how finely the time is kept over which a rise counts.
const parts = 15

// recent has the least temperature of each part of a time that has passed, in tenths.
type recent struct {
	width vtime.Tick // of a part; 0: there is nothing yet
	part  vtime.Tick // the latest, counted from tick 0
	least [parts + 1]int16
}

// rise is how much c is above the least temperature during over, c included.
func (r *recent) rise(now, over vtime.Tick, c float64) float64 {
	width := max(over/parts, 1)
	part := now / width
	if r.width != width || part-r.part > parts {
		*r = recent{width: width, part: part}
		for i := range r.least {
			r.least[i] = math.MaxInt16
		}
	}
	for r.part < part {
		r.part++
		r.least[r.part%(parts+1)] = math.MaxInt16
	}
	tenths := int16(math.Round(c * 10))
	here := &r.least[part%(parts+1)]
	*here = min(*here, tenths)
	least := tenths
	for _, x := range r.least {
		least = min(least, x)
	}
	return float64(tenths-least) / 10
}
