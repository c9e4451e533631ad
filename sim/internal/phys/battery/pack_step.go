package battery

import (
	"math"

	"ridethrough/sim/internal/phys/num"
)

// ConstantPower is the state after the step at watts at the terminals of the
// pack, 0 or more, and the reading at its end, with 0 V if it cannot carry the load
// any more then. It is false, with s unchanged, if the pack cannot carry the load
// through the step. The step belongs to the parameters of the pack's cells.
func (p *Pack) ConstantPower(st *Step, s PackState, watts float64) (next PackState, r Reading, ok bool) {
	switch {
	case p.Live() == 0:
		return s, Reading{}, false
	case p.Weak > 0:
		return p.shared(st, s, watts)
	}
	load := draw{power, watts / float64(p.Cells*p.Sound)}
	mean, ok := st.drawn(&p.Cell, &s.Sound, load)
	if !ok {
		return s, Reading{}, false
	}
	amps, volts, ok := p.Cell.feed(p.Cell.levels(&s.Sound), load)
	if !ok {
		amps, volts = mean, 0
	}
	return s, Reading{max(volts, 0), amps * float64(p.Sound)}, true
}

// Rest is the state after the step with open terminals, every cell losing the
// share selfPerHour of its capacity per hour by itself, and the reading then. What
// strings that differ exchange at rest is left out.
func (p *Pack) Rest(st *Step, s PackState, selfPerHour float64) (next PackState, r Reading) {
	switch {
	case p.Live() == 0:
		return s, Reading{}
	case p.Weak == 0:
		st.full.advance(&p.Cell, &s.Sound, 0)
		r.CellVolts = p.Cell.Volts(s.Sound, 0)
	default:
		st.full.advance(&p.Cell, &s.Sound, 0)
		st.full.advance(&p.Cell, &s.Rest, 0)
		st.full.advance(&p.WeakCell, &s.Weak, 0)
		p.WeakCell.leak(&s.Weak, selfPerHour*st.hours)
		p.Cell.leak(&s.Rest, selfPerHour*st.hours)
		at := p.present(&s)
		r.CellVolts = max(at.volts(flow{}), 0) / float64(p.Cells)
	}
	p.Cell.leak(&s.Sound, selfPerHour*st.hours)
	return s, r
}

// leak takes a share of the capacity from all of the cell evenly.
func (p *Params) leak(s *State, share float64) {
	s.Q = max(s.Q, min(s.Q+float64(share*p.C), p.C))
}

// middle is what the plates of each kind of cell have in the middle of a step with f.
func (p *Pack) middle(st *Step, s *PackState, f flow) (sound, rest, weak levels) {
	each := f.sound / float64(max(p.Sound, 1))
	return st.half.levels(&p.Cell, &s.Sound, each), st.half.levels(&p.Cell, &s.Rest, f.faulty), st.half.levels(&p.WeakCell, &s.Weak, f.faulty)
}

// around are the sources in the middle of a step as they depend on the currents,
// near f.
func (p *Pack) around(st *Step, s *PackState, f flow, down reversal) sources {
	sound, rest, weak := p.middle(st, s, f)
	if down.rest {
		rest = levels{}
	}
	if down.weak {
		weak = levels{}
	}
	b := p.sources(sound, rest, weak)
	if p.Sound > 0 {
		b.sound.bend(float64(p.Cells)*st.half.yields(&p.Cell, sound)/float64(p.Sound), f.sound)
		b.faulty.bend(b.yields(p, st, rest, weak), f.faulty)
	}
	return b
}

// yields is that for the faulty string. Cells at their reversal yield no further,
// though their plates may not be bare yet.
func (b *sources) yields(p *Pack, st *Step, rest, weak levels) (ohms float64) {
	if b.rest > reversed {
		ohms = float64(float64(p.rest()) * st.half.yields(&p.Cell, rest))
	}
	if b.weak > reversed {
		ohms += float64(float64(p.Weak) * st.half.yields(&p.WeakCell, weak))
	}
	return ohms
}

// reversal is which cells of the faulty string are driven backwards.
type reversal struct{ rest, weak bool }

// bend has a source fall by ohms more for each ampere beyond amps.
func (s *source) bend(ohms, amps float64) {
	s.volts += float64(ohms * amps)
	s.ohms += ohms
}

// yields is by how much the voltage behind the resistance is lower at the end of
// the step for each ampere more in it, in ohms; 0 for a bare cell.
func (d *decays) yields(p *Params, at levels) float64 {
	if p.bare(at) {
		return 0
	}
	perAmp := d.hours
	for i := range p.N {
		perAmp += float64(p.Modes[i].A * d.f[i])
	}
	return max(float64(p.Es*d.hours)/p.C+float64(p.B*(perAmp/at.plate-d.hours/at.left)), 0)
}

// limited are the currents over a step, which are near, and how much of what would
// empty the plates the faulty string gives. Cells in it that are asked for more than
// comes to their plates are driven backwards as far as [reversed], if the load or
// the other strings do that.
func (p *Pack) limited(st *Step, s *PackState, near flow, watts float64) (f flow, part float64, ok bool) {
	const easy = 0.5 // of what would empty the plates: so far the middle tells enough
	middle := p.around(st, s, near, reversal{})
	f, ok = middle.share(watts)
	mostRest, mostWeak := math.Inf(1), st.full.most(&p.WeakCell, &s.Weak)
	if p.rest() > 0 {
		mostRest = st.full.most(&p.Cell, &s.Rest)
	}
	most := min(mostRest, mostWeak)
	if p.Sound == 0 {
		if ok && f.faulty > most {
			f, ok = p.driven(st, s, f, watts, mostRest, mostWeak, reversal{mostRest < f.faulty, mostWeak < f.faulty})
		}
		return f, f.faulty / most, ok
	}
	if ok && !middle.bare && min(middle.rest, middle.weak) > reversed && f.faulty <= easy*most {
		return f, f.faulty / most, true
	}
	if f, held, ok := p.held(st, s, middle, watts, most); held {
		return f, atEnd, ok
	}
	f, ok = p.driven(st, s, near, watts, mostRest, mostWeak, reversal{mostRest < mostWeak, mostWeak <= mostRest})
	if ok && f.faulty < most { // it stands between its end and its reversal
		f, ok = middle.withFaulty(watts, most)
		return f, atEnd, ok
	}
	return f, beyondEnd, ok
}

// Parts of what would empty the plates, of a string whose cells are about to give out
// and of one that has cells driven backwards.
const (
	atEnd     = 1
	beyondEnd = 2
)

// driven are the currents with cells driven backwards: those of down, and what
// gives out at those currents in turn.
func (p *Pack) driven(st *Step, s *PackState, f flow, watts, mostRest, mostWeak float64, down reversal) (flow, bool) {
	for {
		f, ok := p.around(st, s, f, down).share(watts)
		also := reversal{down.rest || ok && mostRest < f.faulty, down.weak || ok && mostWeak < f.faulty}
		if also == down {
			return f, ok
		}
		down = also
	}
}

// held is the flow over a step at whose end the faulty string, held up by the
// others, stands at the voltage that they leave it; held is false if that takes
// more than the most that comes to its plates. The end counts and not the middle,
// for charge that is next to nothing settles within the step.
func (p *Pack) held(st *Step, s *PackState, middle sources, watts, most float64) (f flow, held, ok bool) {
	const near = 1e-6 // of the most
	lo, hi := 0.0, most
	f, atLo, okLo := p.excess(st, s, &middle, watts, lo)
	if okLo && atLo <= 0 {
		return f, true, true
	}
	g, atHi, ok := p.excess(st, s, &middle, watts, hi)
	if !ok || atHi >= 0 {
		return flow{}, false, false
	}
	f = g
	for i := 0; hi-lo > near*most; i++ {
		amps := (lo + hi) / 2
		if i%2 == 0 && okLo { // a secant, and halving in turn
			amps = num.Clamp(lo+float64((hi-lo)*(atLo/(atLo-atHi))), lo+float64(0.01*(hi-lo)), hi-float64(0.01*(hi-lo)))
		}
		g, at, good := p.excess(st, s, &middle, watts, amps)
		if good && at <= 0 {
			hi, atHi, f = amps, at, g
		} else {
			lo, atLo, okLo = amps, at, good
		}
	}
	return f, true, true
}

// excess is by how many volts the faulty string, giving amps, stands above the
// others at the end of a step; false if they cannot do the rest of the work.
func (p *Pack) excess(st *Step, s *PackState, middle *sources, watts, amps float64) (f flow, volts float64, ok bool) {
	if f, ok = middle.withFaulty(watts, amps); !ok {
		return f, 0, false
	}
	good, bad := float64(p.rest()), float64(p.Weak)
	rest, weak := st.full.levels(&p.Cell, &s.Rest, amps), st.full.levels(&p.WeakCell, &s.Weak, amps)
	has := float64(good*p.Cell.behind(rest)) + float64(bad*p.WeakCell.behind(weak))
	ohms := float64(good*p.Cell.R) + float64(bad*p.WeakCell.R)
	return f, has - float64(ohms*amps) - middle.volts(f), true
}

// flow is the current of all sound strings together, and of the other one.
type flow struct{ sound, faulty float64 }

// source is a voltage behind a resistance.
type source struct{ volts, ohms float64 }

// sources are the sound strings together, and the string with the weak cells,
// whose cells have rest and weak behind their resistance. With a bare cell in it,
// that string gives current or none: the first that flowed back would set the
// cell upright again.
type sources struct {
	sound, faulty source
	rest, weak    float64
	bare          bool
}

func (p *Pack) sources(sound, rest, weak levels) (b sources) {
	const least = 1e-9 // ohm: ideal cells in parallel would share no current
	cells := float64(p.Cells)
	b.sound = source{0, math.Inf(1)}
	if n := float64(p.Sound); n > 0 {
		b.sound = source{float64(cells * p.Cell.behind(sound)), max(cells*p.Cell.R/n, least)}
	}
	good, bad := float64(p.rest()), float64(p.Weak)
	b.rest, b.weak = p.Cell.behind(rest), p.WeakCell.behind(weak)
	b.bare = good > 0 && p.Cell.bare(rest) || p.WeakCell.bare(weak)
	b.faulty.volts = float64(good*b.rest) + float64(bad*b.weak)
	b.faulty.ohms = max(float64(good*p.Cell.R)+float64(bad*p.WeakCell.R), least)
	return b
}

// behind is the voltage behind the resistance of a cell that others may drive
// beyond its end.
func (p *Params) behind(at levels) float64 {
	if p.bare(at) {
		return reversed
	}
	return max(p.emf(at), reversed)
}

// joined is both as one source.
func (b *sources) joined() source {
	g, h := 1/b.sound.ohms, 1/b.faulty.ohms
	return source{(float64(b.sound.volts*g) + float64(b.faulty.volts*h)) / (g + h), 1 / (g + h)}
}

// volts is the terminal voltage at such a flow.
func (b *sources) volts(f flow) float64 {
	if !math.IsInf(b.sound.ohms, 1) { // the other string may be held up by it
		return b.sound.volts - float64(b.sound.ohms*f.sound)
	}
	s := b.joined()
	return s.volts - float64(s.ohms*(f.sound+f.faulty))
}

// share is how the strings share the current at which the terminals give watts;
// false if they cannot.
func (b sources) share(watts float64) (f flow, ok bool) {
	s := b.joined()
	amps, ok := s.amps(watts)
	if !ok {
		return flow{}, false
	}
	v := s.volts - float64(s.ohms*amps)
	f.sound = (b.sound.volts - v) / b.sound.ohms
	f.faulty = amps - f.sound
	if b.bare && f.faulty < 0 {
		return b.withFaulty(watts, 0)
	}
	return f, true
}

// withFaulty is the same with the current of the faulty string given.
func (b *sources) withFaulty(watts, faulty float64) (f flow, ok bool) {
	s := source{b.sound.volts + float64(b.sound.ohms*faulty), b.sound.ohms}
	amps, ok := s.amps(watts)
	return flow{amps - faulty, faulty}, ok
}

// amps is the current at which s gives watts, false if it cannot.
func (s source) amps(watts float64) (amps float64, ok bool) {
	root := float64(s.volts*s.volts) - float64(4*s.ohms*watts)
	switch {
	case watts <= 0:
		return 0, true
	case root < 0 || s.volts <= 0:
		return 0, false
	}
	return 2 * watts / (s.volts + math.Sqrt(root)), true
}

// drive is advance for a cell in a string with others: once its plates are bare
// it gives no more than what diffuses to them, and the rest of the current only
// reverses it.
func (d *decays) drive(p *Params, s *State, amps float64) {
	if amps > 0 {
		amps = min(amps, d.most(p, s))
	}
	d.advance(p, s, amps)
}

// most is the largest current over the step that leaves something at the plates
// and in the cell, 0 if even rest does not.
func (d *decays) most(p *Params, s *State) float64 {
	bound, perAmp := s.Q, d.hours
	for i := range p.N {
		bound += float64(p.Modes[i].A * float64(d.e[i]*s.U[i]))
		perAmp += float64(p.Modes[i].A * d.f[i])
	}
	if d.hours <= 0 {
		return math.MaxFloat64
	}
	return num.Clamp(min((p.C-bound)/perAmp, (p.C-s.Q)/d.hours), 0, math.MaxFloat64)
}
