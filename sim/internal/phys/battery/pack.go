package battery

// Pack is a battery of many cells: strings in parallel, each of Cells in series.
// Sound of them are without a fault and alike. One more may have Weak cells in
// series that are worse than the rest of it, as a bad block makes them. A string
// that a broken block has opened is no part of the pack; with no string left it
// is open and carries nothing.
type Pack struct {
	Cells    int    // in series in every string, 1 or more
	Sound    int    // strings, 0 or more
	Cell     Params // of all cells but the weak ones
	Weak     int    // cells, 0 to Cells; 0: no string has weak ones
	WeakCell Params // Cell, [Params.Scaled]
}

// PackState is what changes in a pack. All sound strings are in the same state.
type PackState struct {
	Sound State // a cell of a sound string
	Rest  State // a cell beside the weak ones
	Weak  State // a weak cell
}

// Reading is what is measured at the terminals at the end of a step: volts over the
// cells in series, and amperes of all strings together, positive while discharging.
type Reading struct{ CellVolts, Amps float64 }

// reversed is the voltage behind the resistance of a cell in a string whose
// plates are bare and through which the others drive their current: between
// -0.3 and -2 V for lead-acid, from memory. It bounds what a dead cell takes.
const reversed = -1.0

// Validate says what is wrong with p, as a [ParamError], or nil.
func (p *Pack) Validate() error {
	if p.Cells < 1 || p.Sound < 0 || p.Weak < 0 || p.Weak > p.Cells {
		return ParamError("a pack has cells in series, of which some may be weak")
	}
	if err := p.Cell.Validate(); err != nil || p.Weak == 0 {
		return err
	}
	return p.WeakCell.Validate()
}

// Live is the number of strings that can carry current.
func (p *Pack) Live() int {
	if p.Weak > 0 {
		return p.Sound + 1
	}
	return p.Sound
}

// AtCharge is a pack after a long rest, every cell with share g of its charge.
func (p *Pack) AtCharge(g float64) (s PackState) {
	s.Sound = p.Cell.AtCharge(g)
	s.Rest = s.Sound
	s.Weak = p.WeakCell.AtCharge(g)
	return s
}

// Carry is [Params.Carry] for every cell.
func (p *Pack) Carry(s PackState, old *Pack) PackState {
	s.Sound = p.Cell.Carry(s.Sound, &old.Cell)
	s.Rest = p.Cell.Carry(s.Rest, &old.Cell)
	if p.Weak > 0 {
		s.Weak = p.WeakCell.Carry(s.Weak, &old.WeakCell)
	}
	return s
}

// rest is the number of sound cells in the string with the weak ones.
func (p *Pack) rest() int {
	if p.Weak == 0 {
		return 0
	}
	return p.Cells - p.Weak
}

// Charge is the share of charge left in all cells together, 0..1; 0 for a pack
// that is open.
func (p *Pack) Charge(s *PackState) float64 {
	switch {
	case p.Weak == 0 && p.Sound == 0:
		return 0
	case p.Weak == 0:
		return p.Cell.charge(&s.Sound)
	}
	sound, rest, weak := float64(float64(p.Sound*p.Cells)*p.Cell.C), float64(float64(p.rest())*p.Cell.C), float64(float64(p.Weak)*p.WeakCell.C)
	left := float64(sound*p.Cell.charge(&s.Sound)) + float64(rest*p.Cell.charge(&s.Rest)) + float64(weak*p.WeakCell.charge(&s.Weak))
	return left / (sound + rest + weak)
}

// StoredWh is the energy left in all cells that are part of the pack, in Wh.
func (p *Pack) StoredWh(s *PackState) float64 {
	sum := float64(float64(p.Sound*p.Cells) * p.Cell.StoredWh(s.Sound))
	if p.Weak == 0 {
		return sum
	}
	return sum + float64(float64(p.rest())*p.Cell.StoredWh(s.Rest)) + float64(float64(p.Weak)*p.WeakCell.StoredWh(s.Weak))
}

// ReleasedWh is the energy that the cells gave up from one state to the next,
// in Wh: charge drawn times rested voltage between the two. It does not look at
// the energy stored, so that a balance over many steps is a check on both.
func (p *Pack) ReleasedWh(before, after *PackState) float64 {
	sum := float64(float64(p.Sound*p.Cells) * p.Cell.released(&before.Sound, &after.Sound))
	if p.Weak == 0 {
		return sum
	}
	return sum + float64(float64(p.rest())*p.Cell.released(&before.Rest, &after.Rest)) +
		float64(float64(p.Weak)*p.WeakCell.released(&before.Weak, &after.Weak))
}

func (p *Params) released(before, after *State) float64 {
	g, h := p.charge(before), p.charge(after)
	return float64(p.OpenVolts(float64(0.5*(g+h))) * p.C * (g - h))
}

// DrawnAh is the charge that all strings together gave from one state to the
// next, in Ah, as a counter in each of them would have it.
func (p *Pack) DrawnAh(before, after *PackState) float64 {
	sum := float64(float64(p.Sound) * (after.Sound.Q - before.Sound.Q))
	if p.Weak == 0 {
		return sum
	}
	drawn := after.Weak.Q - before.Weak.Q
	if p.Weak < p.Cells {
		drawn = after.Rest.Q - before.Rest.Q
	}
	return sum + drawn
}
