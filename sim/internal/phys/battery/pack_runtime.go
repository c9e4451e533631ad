package battery

// Runtime is how long the pack in state s carries watts before the mean voltage of
// its cells falls to cutoffV, in hours, at most [MaxRuntime]; see
// [Params.Runtime]. Where cells differ it walks in steps: to within 0.2 %,
// beside sound strings 1 %.
func (p *Pack) Runtime(s PackState, watts, cutoffV float64) (hours float64) {
	switch {
	case p.Live() == 0:
		return 0
	case p.Weak == 0:
		return p.Cell.Runtime(s.Sound, watts/float64(p.Cells*p.Sound), cutoffV)
	case watts <= 0:
		return MaxRuntime
	}
	if !p.carries(&s, watts, cutoffV) {
		return 0
	}
	var st Step
	for hours < MaxRuntime {
		dt := p.stride(&s, watts)
		st.set(&p.Cell, dt)
		next, _, ok := p.shared(&st, s, watts)
		if !ok || !p.carries(&next, watts, cutoffV) {
			return hours + p.ending(&s, watts, cutoffV, dt)
		}
		s, hours = next, hours+dt
	}
	return MaxRuntime
}

// carries says whether the pack gives watts at more than cutoffV.
func (p *Pack) carries(s *PackState, watts, cutoffV float64) bool {
	now := p.sources(p.Cell.levels(&s.Sound), p.Cell.levels(&s.Rest), p.WeakCell.levels(&s.Weak))
	f, ok := now.share(watts)
	return ok && now.volts(f) > float64(cutoffV*float64(p.Cells))
}

// stride is a step in hours within which no voltage bends far: a small part of
// what the least charged cells have left at the plates at the present rate, but
// no less than a small part of what all would last without a fault.
func (p *Pack) stride(s *PackState, watts float64) float64 {
	const part, floor = 0.05, 0.001
	now, ok := p.sources(p.Cell.levels(&s.Sound), p.Cell.levels(&s.Rest), p.WeakCell.levels(&s.Weak)).share(watts)
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
func (p *Pack) ending(s *PackState, watts, cutoffV, hours float64) float64 {
	lo, hi := 0.0, hours
	var st Step
	for hi-lo > 1e-3*hours {
		mid := (lo + hi) / 2
		st.set(&p.Cell, mid)
		if next, _, ok := p.shared(&st, *s, watts); ok && p.carries(&next, watts, cutoffV) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
