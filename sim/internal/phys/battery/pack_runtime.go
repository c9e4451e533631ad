package battery

// Runtime is how long the pack in state s carries watts before the mean voltage of
// its cells falls to cutoffV, in hours, at most [MaxRuntime]; see
// [Params.Runtime]. Where cells differ it walks in steps, within 0.1 % of tiny ones.
func (p *Pack) Runtime(s PackState, watts, cutoffV float64) (hours float64) {
	switch {
	case p.Live() == 0:
		return 0
	case p.Weak == 0:
		return p.Cell.Runtime(s.Sound, watts/float64(p.Cells*p.Sound), cutoffV)
	case watts <= 0:
		return MaxRuntime
	}
	const second = 1.0 / 3600
	probe, st := p.Cell.NewStep(0.01*second), Step{}
	if !p.carries(&probe, &s, watts, cutoffV) {
		return 0
	}
	// What a string that others hold up shows after a long step is not good enough for the
	// end, so that it is come to in ever shorter ones.
	const short, shorter = 5e-4, 0.25 // of the runtime; of the step that was too long
	for longest := float64(MaxRuntime); hours < MaxRuntime; {
		dt := min(p.stride(&s, watts), longest)
		st.set(&p.Cell, dt)
		next, _, ok := p.shared(&st, s, watts)
		switch {
		case ok && p.carries(&probe, &next, watts, cutoffV):
			s, hours = next, hours+dt
		case dt > short*(hours+dt):
			longest = shorter * dt
		default:
			return hours + p.ending(&probe, &s, watts, cutoffV, dt)
		}
	}
	return MaxRuntime
}

// carries says whether the pack gives watts at more than cutoffV. It looks a short
// step ahead, for what a string with bare cells gives is a matter of time.
func (p *Pack) carries(probe *Step, s *PackState, watts, cutoffV float64) bool {
	_, r, ok := p.shared(probe, *s, watts)
	return ok && r.CellVolts > cutoffV
}

// stride is a step in hours within which no voltage bends far: a small part of
// what the least charged cells have left at the plates at the present rate, but
// no less than a small part of what all would last without a fault.
func (p *Pack) stride(s *PackState, watts float64) float64 {
	const part, floor = 0.05, 0.0007
	now, ok := p.present(s).share(watts)
	if !ok {
		return floor
	}
	whole := p.Cell.C * float64(p.Live()) / (now.sound + now.faulty)
	least := whole
	if p.Sound > 0 && now.sound > 0 {
		least = min(least, p.Cell.stretch(&s.Sound, now.sound/float64(p.Sound)))
	}
	if now.faulty > 0 {
		least = min(least, p.Cell.stretch(&s.Rest, now.faulty), p.WeakCell.stretch(&s.Weak, now.faulty))
	}
	dt := max(part*least/stretchPart, floor*whole)
	return min(dt, MaxRuntime)
}

// ending is when within the next hours the end voltage is reached, by halving.
func (p *Pack) ending(probe *Step, s *PackState, watts, cutoffV, hours float64) float64 {
	lo, hi := 0.0, hours
	var st Step
	for hi-lo > 1e-4*hours {
		mid := (lo + hi) / 2
		st.set(&p.Cell, mid)
		if next, _, ok := p.shared(&st, *s, watts); ok && p.carries(probe, &next, watts, cutoffV) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
