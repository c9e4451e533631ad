package battery

import "ridethrough/sim/internal/phys/num"

// Charge is the state after st with the pack on charger c, whose MaxA holds for
// each string, and the reading then: Amps is the mean and negative. A pack that
// is open takes nothing and shows the charger's voltage.
func (p *Pack) Charged(c *Charger, st *Step, s PackState) (next PackState, r Reading) {
	r.CellVolts = c.SetV
	if p.Sound > 0 {
		var amps float64
		s.Sound, amps = c.Step(st, &p.Cell, s.Sound)
		r.CellVolts = c.Volts(&p.Cell, s.Sound, amps)
		r.Amps = -amps * float64(p.Sound)
	}
	if p.Weak > 0 {
		amps, volts := p.chargeFaulty(c, st, &s)
		r.Amps -= amps
		if p.Sound == 0 {
			r.CellVolts = volts
		}
	}
	return s, r
}

// chargeFaulty moves the string with the weak cells: one current through all.
func (p *Pack) chargeFaulty(c *Charger, st *Step, s *PackState) (amps, cellVolts float64) {
	middle := *s
	stored := float64(c.Efficiency * min(p.acceptedFaulty(c, s), c.MaxA))
	st.half.advance(&p.Cell, &middle.Rest, -stored)
	st.half.advance(&p.WeakCell, &middle.Weak, -stored)
	accepted := p.acceptedFaulty(c, &middle)
	stored = float64(c.Efficiency * min(accepted, c.MaxA))
	st.full.advance(&p.Cell, &s.Rest, -stored)
	st.full.advance(&p.WeakCell, &s.Weak, -stored)
	amps = num.Clamp(accepted+c.FloatA, 0, c.MaxA)
	open, ohms := p.faultyAgainst(c, s)
	volts := open + float64(ohms*amps)
	set := float64(c.SetV * float64(p.Cells))
	if amps < c.MaxA || volts > set {
		volts = max(set, open)
	}
	return amps, volts / float64(p.Cells)
}

// acceptedFaulty is the current that the set voltage drives into the string, 0
// when all its cells are full.
func (p *Pack) acceptedFaulty(c *Charger, s *PackState) float64 {
	if p.WeakCell.charge(&s.Weak) >= 1 && (p.rest() == 0 || p.Cell.charge(&s.Rest) >= 1) {
		return 0
	}
	open, ohms := p.faultyAgainst(c, s)
	return max(float64(c.SetV*float64(p.Cells))-open, 0) / ohms
}

// faultyAgainst is what the string holds against a charger: its rested voltage and
// the resistance that it shows while it is charged.
func (p *Pack) faultyAgainst(c *Charger, s *PackState) (volts, ohms float64) {
	good, bad := p.Cell.charge(&s.Rest), p.WeakCell.charge(&s.Weak)
	volts = float64(float64(p.rest())*p.Cell.OpenVolts(good)) + float64(float64(p.Weak)*p.WeakCell.OpenVolts(bad))
	ohms = float64(float64(p.rest())*c.ohms(&p.Cell, good)) + float64(float64(p.Weak)*c.ohms(&p.WeakCell, bad))
	return volts, ohms
}
