package dossier

import (
	"ridethrough/sim/internal/core/figure"
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// samples is about how many readings a tape keeps of a run in which nothing happens;
// each change adds two.
const samples = 1200

// maxSamples and maxSpans bound what a tape keeps.
const (
	maxSamples = 50_000
	maxSpans   = 10_000
)

// Tape keeps what the charts of a report show. It is not safe for concurrent use.
type Tape struct {
	plan  *plan.Plan
	step  vtime.Tick
	kept  []sample
	last  sample // seen, perhaps not kept
	held  bool   // last is kept
	bands []band
	final *snap.Site
}

// sample is what is drawn as lines; unknown values are [figure.Unknown].
type sample struct {
	at                                      vtime.Tick
	source                                  snap.OutputSource
	charge, shown, runtime, truth           float64
	loadW, inV, outV, batteryC, unitC, room float64
	probe                                   float64
}

// band is one thing that has states.
type band struct {
	name  string
	code  uint8 // of the latest span
	spans []figure.Span
	look  func(*snap.Site) (code uint8, text string, tone figure.Tone)
}

// NewTape is for one run of p.
func NewTape(p *plan.Plan) *Tape {
	t := &Tape{plan: p, step: max(1, p.RunFor/samples)}
	t.bands = append(t.bands, band{name: "output fed by", look: fedBy})
	for i := range p.Groups {
		t.bands = append(t.bands, band{name: "group " + p.Groups[i].Name, look: func(s *snap.Site) (uint8, string, figure.Tone) { return groupState(&s.Groups[i]) }})
	}
	for i := range p.Hosts {
		t.bands = append(t.bands, band{name: p.Hosts[i].Name, look: func(s *snap.Site) (uint8, string, figure.Tone) { return hostState(&s.Hosts[i]) }})
	}
	if p.Policy != nil {
		t.bands = append(t.bands, band{name: "shutdown manager", look: stageOf})
	}
	t.bands = append(t.bands, band{name: "card", look: cardState})
	for i, u := range p.Units {
		t.addUnit(i+1, u)
	}
	return t
}

// addUnit adds the bands of a further unit.
func (t *Tape) addUnit(unit int, p *plan.Plan) {
	add := func(what string, look func(*snap.Site) (uint8, string, figure.Tone)) {
		t.bands = append(t.bands, band{name: p.UnitName + ": " + what, look: func(s *snap.Site) (uint8, string, figure.Tone) { return look(s.Of(unit)) }})
	}
	add("output fed by", fedBy)
	if p.Policy != nil {
		add("manager", stageOf)
	}
	add("card", cardState)
}

// See takes the site at one instant of the run. It keeps nothing of it but the last
// one, which the run does not change any more.
func (t *Tape) See(s *snap.Site) {
	t.final = s
	one := t.read(s)
	if t.states(s) || len(t.kept) == 0 || one.jumps(&t.last) {
		t.hold(s.Tick)
		t.keep(one)
		return
	}
	t.last, t.held = one, false
	if one.at-t.kept[len(t.kept)-1].at >= t.step {
		t.keep(one)
	}
}

// hold keeps what was so up to now: between two instants of a run nothing is
// switched.
func (t *Tape) hold(now vtime.Tick) {
	if len(t.kept) > 0 && t.last.at < now {
		t.last.at = now
		t.kept = append(t.kept, t.last)
	}
}

// jumps says whether a quantity is so far from what it was that it has been switched.
func (s *sample) jumps(was *sample) bool {
	return far(s.loadW, was.loadW, 20) || far(s.inV, was.inV, 2) || far(s.outV, was.outV, 2)
}

func far(a, b, by float64) bool { return a-b > by || b-a > by }

func (t *Tape) keep(one sample) {
	t.kept = append(t.kept, one)
	t.last, t.held = one, true
	if len(t.kept) >= maxSamples {
		t.thin()
	}
}

// thin keeps every other sample: a session that is kept on for days must not take more
// and more.
func (t *Tape) thin() {
	for i := range len(t.kept) / 2 {
		t.kept[i] = t.kept[2*i]
	}
	t.kept = t.kept[:len(t.kept)/2]
	t.step *= 2
}

// states notes what has changed its state, and says whether anything has.
func (t *Tape) states(s *snap.Site) (changed bool) {
	for i := range t.bands {
		b := &t.bands[i]
		code, text, tone := b.look(s)
		if len(b.spans) > 0 && (b.code == code || len(b.spans) == maxSpans) {
			continue
		}
		changed = true
		b.code = code
		b.spans = append(b.spans, figure.Span{From: s.Tick.Seconds(), Text: text, Tone: tone})
	}
	return changed
}

func (t *Tape) read(s *snap.Site) sample {
	one := sample{
		at: s.Tick, source: s.UPS.Source,
		charge: s.ChargePct, shown: s.Battery.ChargePct, runtime: s.Battery.RuntimeS / 60, truth: s.TrueRuntimeS / 60,
		loadW: s.Power.OutputW, inV: lowest(&s.Input), outV: lowest(&s.Output),
		batteryC: s.Battery.TempC, unitC: s.UnitC, room: figure.Unknown, probe: figure.Unknown,
	}
	if t.plan.Room != nil {
		one.room = s.Room.TempC
	}
	if p := &s.Probes.List[0]; s.Probes.Count > 0 && p.State != snap.ProbeLost && p.State != snap.ProbeUnpaired {
		one.probe = p.TempC
	}
	if !s.UPS.OutputOn {
		one.outV = 0
	}
	return one
}

// lowest is the voltage of the lowest line.
func lowest(l *snap.Lines) float64 {
	v := l.Lines[0].Volts
	for i := range l.Count {
		v = min(v, l.Lines[i].Volts)
	}
	return v
}

func fedBy(s *snap.Site) (uint8, string, figure.Tone) {
	tone := figure.Calm
	switch s.UPS.Source {
	case snap.SourceBattery:
		tone = figure.Warning
	case snap.SourceNone:
		tone = figure.Blank
	case snap.SourceBypass, snap.SourceBooster, snap.SourceReducer:
		tone = figure.Busy
	}
	return uint8(s.UPS.Source), s.UPS.Source.String(), tone
}

func groupState(g *snap.Group) (uint8, string, figure.Tone) {
	if g.On {
		return 1, "on", figure.Calm
	}
	return 0, "off", figure.Blank
}

func hostState(h *snap.Host) (uint8, string, figure.Tone) {
	tone := figure.Blank
	switch h.State {
	case snap.HostRunning:
		tone = figure.Calm
	case snap.HostBooting, snap.HostStopping:
		tone = figure.Busy
	case snap.HostCut:
		tone = figure.Bad
	}
	return uint8(h.State), h.State.String(), tone
}

func stageOf(s *snap.Site) (uint8, string, figure.Tone) {
	tone := figure.Busy
	if s.Policy == snap.PolicyWatching {
		tone = figure.Blank
	}
	return uint8(s.Policy), s.Policy.String(), tone
}

// noContact is a code beside those of [snap.CardState].
const noContact = 100

func cardState(s *snap.Site) (uint8, string, figure.Tone) {
	tone := figure.Bad
	switch s.Card.State {
	case snap.CardRunning:
		tone = figure.Calm
		if s.Card.UnitLost {
			return noContact, "no contact to unit", figure.Warning
		}
	case snap.CardBooting:
		tone = figure.Busy
	}
	return uint8(s.Card.State), s.Card.State.String(), tone
}
