package battery

// MaxRuntime is the longest runtime given, in hours. A load that draws nothing
// runs for that long.
const MaxRuntime = 100

// Runtime is how long a cell in state s carries wattsPerCell before its
// voltage falls to cutoffV, in hours, at most [MaxRuntime]. It is 0 if the
// voltage is there already or the cell cannot carry the load, and MaxRuntime
// for a load of 0 or less. It takes long steps: within 0.1 % of short ones.
func (p *Params) Runtime(s State, wattsPerCell, cutoffV float64) (hours float64) {
	return p.lasts(s, draw{power, wattsPerCell}, cutoffV)
}

// RuntimeAtCurrent is the same for a constant current in A.
func (p *Params) RuntimeAtCurrent(s State, amps, cutoffV float64) (hours float64) {
	return p.lasts(s, draw{current, amps}, cutoffV)
}

// RuntimeAtResistance is the same for a constant resistance in ohms per cell,
// more than 0.
func (p *Params) RuntimeAtResistance(s State, ohms, cutoffV float64) (hours float64) {
	return p.lasts(s, draw{resistance, ohms}, cutoffV)
}

func (p *Params) lasts(s State, d draw, cutoffV float64) float64 {
	if d.value <= 0 {
		return MaxRuntime
	}
	amps, volts, ok := p.feed(p.levels(&s), d)
	if !ok || !(volts > cutoffV) {
		return 0
	}
	var l leap
	for t := 0.0; t < MaxRuntime; t += l.hours {
		l.set(p, min(p.stretch(&s, amps), MaxRuntime-t))
		next := s
		nextAmps, nextVolts, ok := l.jump(p, &next, d, amps)
		if !ok || !(nextVolts > cutoffV) {
			return t + p.crossing(&s, d, amps, l.hours, volts, cutoffV)
		}
		s, amps, volts = next, nextAmps, nextVolts
	}
	return MaxRuntime
}

// stretchPart is the part of the charge that a stretch takes.
const stretchPart = 0.35

// stretch is a step in hours over which plate charge and charge fall by a
// modest part at the present rate, so that the voltage stays smooth within it.
func (p *Params) stretch(s *State, amps float64) float64 {
	const part = stretchPart
	at := p.levels(s)
	rate := amps
	for i := range p.N {
		m := &p.Modes[i]
		rate += float64(m.A * (amps - float64(m.Lambda*s.U[i])))
	}
	hours := part * at.left / amps
	if rate > 0 {
		hours = min(hours, part*at.plate/rate)
	}
	return hours
}

// crossing is when within the next hours the voltage, above the end voltage at
// the start and not above it at the end, passes it. Secants, of which every
// third gives way to halving.
func (p *Params) crossing(s *State, d draw, amps, hours, volts, cutoffV float64) float64 {
	const close, share = 1e-6, 1e-6 // V; of the step
	lo, hi := 0.0, hours
	atLo, atHi := volts-cutoffV, cutoffV-volts
	var l leap
	for i := 1; hi-lo > share*hours; i++ {
		at := lo + float64((hi-lo)*atLo/(atLo-atHi))
		if i%3 == 0 {
			at = (lo + hi) / 2
		}
		l.set(p, at)
		there := *s
		_, v, ok := l.jump(p, &there, d, amps)
		switch left := v - cutoffV; {
		case !ok:
			hi, atHi = at, -atLo
		case left > close:
			lo, atLo = at, left
		case left < -close:
			hi, atHi = at, left
		default:
			return at
		}
	}
	return lo
}
