package battery

import "ridethrough/sim/internal/phys/num"

// Step is one length of time made ready: the decays of the modes over it and
// over its half. It belongs to the parameters that made it (scaling capacity or
// resistance does not spoil it) and may serve any number of states.
type Step struct {
	hours float64
	half  decays
	full  decays
}

// decays hold, per mode, e = exp(-lambda dt) and f = (1-e)/lambda.
type decays struct {
	hours float64
	e, f  [MaxModes]float64
}

// NewStep makes a step of dtHours ready, which must be 0 or more.
func (p *Params) NewStep(dtHours float64) Step {
	st := Step{hours: dtHours}
	st.set(p, dtHours)
	return st
}

func (st *Step) set(p *Params, dtHours float64) {
	st.hours = dtHours
	st.half.hours, st.full.hours = dtHours/2, dtHours
	for i := range p.N {
		lambda := p.Modes[i].Lambda
		gone := -num.Expm1(-0.5 * lambda * dtHours)
		e, f := 1-gone, gone/lambda
		st.half.e[i], st.half.f[i] = e, f
		st.full.e[i], st.full.f[i] = float64(e*e), float64(f*(1+e))
	}
}

// Hours is the length of the step.
func (st *Step) Hours() float64 { return st.hours }

// ConstantCurrent is the state after the step at a current in A, positive while
// discharging. It is exact. A charging current that would overfill the cell is
// cut to what fills it; the rest is gas. A discharging current is not cut: ask
// for the plate charge afterwards.
func (st *Step) ConstantCurrent(p *Params, s State, amps float64) State {
	st.full.advance(p, &s, amps)
	return s
}

// ConstantPower is the state after the step at a power in W at the terminals,
// positive while discharging, and the mean current of the step. It is false,
// with s unchanged, if the cell cannot carry the load through the step.
func (st *Step) ConstantPower(p *Params, s State, watts float64) (next State, amps float64, ok bool) {
	amps, ok = st.drawn(p, &s, draw{power, watts})
	return s, amps, ok
}

// ConstantResistance is the same for a load of ohms, more than 0.
func (st *Step) ConstantResistance(p *Params, s State, ohms float64) (next State, amps float64, ok bool) {
	amps, ok = st.drawn(p, &s, draw{resistance, ohms})
	return s, amps, ok
}

// drawn moves s on, taking the current at the middle of the step for the mean.
// The middle being near the start, its logarithm is had from the one there.
func (st *Step) drawn(p *Params, s *State, d draw) (amps float64, ok bool) {
	start := p.levels(s)
	if p.bare(start) && d.value > 0 {
		return 0, false
	}
	depletion := p.depletion(start)
	ln := num.Log(depletion)
	amps, ok = p.ampsFrom(p.emfAt(start, ln), d)
	if !ok {
		return 0, false
	}
	middle := st.half.levels(p, s, amps)
	if p.bare(middle) && d.value > 0 {
		return 0, false
	}
	ln = num.LogNear(p.depletion(middle), depletion, ln)
	amps, ok = p.ampsFrom(p.emfAt(middle, ln), d)
	if !ok {
		return 0, false
	}
	st.full.advance(p, s, amps)
	return amps, true
}

// advance moves s on at constant current.
func (d *decays) advance(p *Params, s *State, amps float64) {
	s.Q, amps = d.charged(s.Q, amps)
	for i := range p.N {
		s.U[i] = float64(d.e[i]*s.U[i]) + float64(d.f[i]*amps)
	}
}

// levels are those that advance would lead to.
func (d *decays) levels(p *Params, s *State, amps float64) levels {
	q, amps := d.charged(s.Q, amps)
	bound := q
	for i := range p.N {
		u := float64(d.e[i]*s.U[i]) + float64(d.f[i]*amps)
		bound += float64(p.Modes[i].A * u)
	}
	return levels{num.Clamp(p.C-q, 0, p.C), p.C - bound}
}

// charged is the charge drawn after the step and the current that counted: a
// full cell takes no more.
func (d *decays) charged(q, amps float64) (after, counted float64) {
	after = q + float64(amps*d.hours)
	if after < 0 && amps < 0 {
		return 0, -max(q, 0) / d.hours
	}
	return after, amps
}
