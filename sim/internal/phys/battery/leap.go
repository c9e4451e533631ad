package battery

import "ridethrough/sim/internal/phys/num"

// leap is a long step at a load whose current changes within it. The current
// is taken as a parabola through its start, middle and end, for which the modes
// have an exact solution too: with s the share of the step,
//
//	u(1) = u(0) e + c0 M0 + c1 M1 + c2 M2   for I = c0 + c1 s + c2 s^2
//	M0 = (1-e)/lambda,  Mk = (1 - k M(k-1)/dt)/lambda
type leap struct {
	hours float64
	half  moments
	full  moments
}

type moments struct {
	hours         float64
	e, m0, m1, m2 [MaxModes]float64
}

func (l *leap) set(p *Params, hours float64) {
	l.hours = hours
	l.half.hours, l.full.hours = hours/2, hours
	for i := range p.N {
		lambda := p.Modes[i].Lambda
		gone := -num.Expm1(-0.5 * lambda * hours)
		e, f := 1-gone, gone/lambda
		l.half.set(i, lambda, e, f)
		l.full.set(i, lambda, float64(e*e), float64(f*(1+e)))
	}
}

func (m *moments) set(i int, lambda, e, m0 float64) {
	m.e[i], m.m0[i] = e, m0
	x := lambda * m.hours
	if x < 1e-3 { // the recursion would cancel; this is its series
		m.m1[i] = m.hours * (0.5 - float64(x/6))
		m.m2[i] = m.hours * (1.0/3 - float64(x/12))
		return
	}
	m.m1[i] = (1 - m0/m.hours) / lambda
	m.m2[i] = (1 - float64(2*m.m1[i])/m.hours) / lambda
}

// parabola is a current in the share s of a step: c0 + c1 s + c2 s^2.
type parabola struct{ c0, c1, c2 float64 }

// jump moves s over the leap, amps being the current at its start, and gives
// current and voltage at its end. It is false if the cell cannot carry the load.
func (l *leap) jump(p *Params, s *State, d draw, amps float64) (after, volts float64, ok bool) {
	middle, _, ok := p.feed(l.half.levels(p, s, parabola{c0: amps}), d)
	if !ok {
		return 0, 0, false
	}
	middle, _, ok = p.feed(l.half.levels(p, s, parabola{c0: amps, c1: middle - amps}), d)
	if !ok {
		return 0, 0, false
	}
	end, _, ok := p.feed(l.full.levels(p, s, parabola{c0: amps, c1: 2 * (middle - amps)}), d)
	if !ok {
		return 0, 0, false
	}
	bend := 2 * (amps - middle + (end - middle))
	l.full.advance(p, s, parabola{amps, end - amps - bend, bend})
	return p.feed(p.levels(s), d)
}

// charge is what a current carries off.
func (m *moments) charge(c parabola) float64 {
	return float64(m.hours * (c.c0 + float64(c.c1/2) + float64(c.c2/3)))
}

func (m *moments) mode(i int, u float64, c parabola) float64 {
	return float64(m.e[i]*u) + float64(m.m0[i]*c.c0) + float64(m.m1[i]*c.c1) + float64(m.m2[i]*c.c2)
}

func (m *moments) advance(p *Params, s *State, c parabola) {
	s.Q += m.charge(c)
	for i := range p.N {
		s.U[i] = m.mode(i, s.U[i], c)
	}
}

// levels are those that advance would lead to.
func (m *moments) levels(p *Params, s *State, c parabola) levels {
	q := s.Q + m.charge(c)
	bound := q
	for i := range p.N {
		bound += float64(p.Modes[i].A * m.mode(i, s.U[i], c))
	}
	return levels{num.Clamp(p.C-q, 0, p.C), p.C - bound}
}
