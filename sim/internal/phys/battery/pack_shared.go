package battery

import "math"

// moved is what a step made of a pack whose strings differ.
type moved struct {
	s     PackState
	f     flow    // the mean
	volts float64 // of the terminals at the end
	part  float64 // of what would empty the plates, that the faulty string gave
	last  piece
}

// piece is the last of those that a step was taken in, or all of it.
type piece struct {
	faulty float64 // current
	held   bool    // that current is the one at its end, see [Pack.held]
}

// shared moves a pack whose strings differ, or the cells within one.
func (p *Pack) shared(st *Step, s PackState, watts float64) (next PackState, r Reading, ok bool) {
	const halvings = 9 // a step of a second then sees the end of a block to 2 ms
	m, ok := p.refined(st, &s, watts, halvings)
	if !ok {
		return s, Reading{}, false
	}
	f, volts := p.under(&m, watts)
	return m.s, Reading{max(volts, 0) / float64(p.Cells), f.sound + f.faulty}, true
}

// under are currents and voltage at the end of a step: 0 V, and the mean currents, if
// the pack cannot carry the load any more then.
func (p *Pack) under(m *moved, watts float64) (f flow, volts float64) {
	b := p.present(&m.s)
	f, ok := b.share(watts)
	if m.last.held {
		f, ok = b.withFaulty(watts, m.last.faulty)
	}
	if !ok {
		return m.f, 0
	}
	return f, b.volts(f)
}

// spent is the share of charge at the plates of the sound strings at which the pack
// is at its end, for they carry it: from there on they would hang on what diffuses,
// held up by a string that is itself driven backwards.
const spent = 5e-4

// once takes the step as one. The currents of all strings are those of the middle of
// the step, where the voltages follow from the currents in turn: Newton's method,
// twice. Without that, strings in parallel would swing over steps longer than they
// need to share a load.
func (p *Pack) once(st *Step, s *PackState, watts float64) (m moved, ok bool) {
	f, ok := p.around(st, s, flow{}, reversal{}).share(watts)
	if !ok {
		return moved{}, false
	}
	if m.f, m.part, ok = p.limited(st, s, f, watts); !ok {
		return moved{}, false
	}
	m.s = *s
	st.full.drive(&p.Cell, &m.s.Sound, m.f.sound/float64(max(p.Sound, 1)))
	st.full.drive(&p.Cell, &m.s.Rest, m.f.faulty)
	st.full.drive(&p.WeakCell, &m.s.Weak, m.f.faulty)
	m.volts = p.endVolts(&m.s, m.f)
	m.last = piece{m.f.faulty, m.part == atEnd}
	return m, p.Sound == 0 || m.f.sound <= 0 || p.Cell.C-p.Cell.bound(&m.s.Sound) > spent*p.Cell.C
}

func (p *Pack) endVolts(s *PackState, f flow) float64 {
	b := p.present(s)
	return b.volts(f)
}

// present are the sources as they are in a state.
func (p *Pack) present(s *PackState) sources {
	return p.sources(p.Cell.levels(&s.Sound), p.Cell.levels(&s.Rest), p.WeakCell.levels(&s.Weak))
}

// refined takes the step as one where that is good enough, else as two halves, each
// refined in turn: a block that gives out bends all voltages within seconds.
func (p *Pack) refined(st *Step, s *PackState, watts float64, halvings int) (m moved, ok bool) {
	const smooth = 0.1 // of what would empty the plates
	whole, ok := p.once(st, s, watts)
	if ok && whole.part < smooth && p.works(st, s, &whole, watts) || halvings == 0 {
		return whole, ok
	}
	var half Step
	half.set(&p.Cell, st.hours/2)
	if first, good := p.once(&half, s, watts); ok && good {
		if second, good := p.once(&half, &first.s, watts); good && p.agree(&whole, &first, &second) {
			return p.beyond(&whole, &first, &second), true
		}
	}
	first, ok := p.refined(&half, s, watts, halvings-1)
	if !ok {
		return moved{}, false
	}
	second, ok := p.refined(&half, &first.s, watts, halvings-1)
	second.f = mean(first.f, second.f)
	second.part = max(first.part, second.part)
	return second, ok
}

// works says whether the currents of a step give watts in its middle. Newton's tangent
// tells them from there, and where plates are nearly bare it is far from the curve.
func (p *Pack) works(st *Step, s *PackState, m *moved, watts float64) bool {
	const near = 1e-3
	b := p.sources(p.middle(st, s, m.f))
	return math.Abs(float64(b.volts(m.f)*(m.f.sound+m.f.faulty))-watts) <= near*watts
}

func mean(a, b flow) flow {
	return flow{float64((a.sound + b.sound) / 2), float64((a.faulty + b.faulty) / 2)}
}

// agree says whether two halves come to nearly the same as the whole.
func (p *Pack) agree(whole, first, second *moved) bool {
	const amps, volts = 2e-3, 3e-3 // of a string's current; per cell
	f := mean(first.f, second.f)
	each := (math.Abs(f.sound) + math.Abs(f.faulty)) / float64(p.Live())
	return math.Abs(f.faulty-whole.f.faulty) <= float64(amps*each) &&
		math.Abs(second.volts-whole.volts) <= float64(volts*float64(p.Cells))
}

// beyond is what ever smaller steps would come to, by what two halves change: the
// error of a step goes with the square of its length, or with the cube where its
// middle told the currents.
func (p *Pack) beyond(whole, first, second *moved) moved {
	k := 1.0
	if max(whole.part, first.part, second.part) < 1 {
		k = 1.0 / 3
	}
	m := *second
	f := mean(first.f, second.f)
	m.f = flow{on(f.sound, whole.f.sound, k), on(f.faulty, whole.f.faulty, k)}
	m.s.Sound = p.Cell.further(&second.s.Sound, &whole.s.Sound, k)
	m.s.Rest = p.Cell.further(&second.s.Rest, &whole.s.Rest, k)
	m.s.Weak = p.WeakCell.further(&second.s.Weak, &whole.s.Weak, k)
	return m
}

// on is fine moved on by k of its distance from coarse.
func on(fine, coarse, k float64) float64 { return fine + float64(k*(fine-coarse)) }

// further is that for a state; fine itself where nothing would be left of the cell,
// or more than it holds.
func (p *Params) further(fine, coarse *State, k float64) State {
	s := *fine
	s.Q = on(fine.Q, coarse.Q, k)
	for i := range p.N {
		s.U[i] = on(fine.U[i], coarse.U[i], k)
	}
	if s.Q < 0 || p.bare(p.levels(&s)) {
		return *fine
	}
	return s
}
