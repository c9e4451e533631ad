package battery

import "ridethrough/sim/internal/phys/num"

// State is what changes in a cell: the charge drawn, Q in Ah (0 when full), and
// the modes U in Ah, 0 after a long rest. Negative modes follow charging.
type State struct {
	Q float64
	U [MaxModes]float64
}

// AtCharge is a cell after a long rest with share g of its charge, limited to
// 0..1.
func (p *Params) AtCharge(g float64) State {
	return State{Q: float64(p.C * (1 - num.Clamp(g, 0, 1)))}
}

// Charge is the share of charge left, 0..1.
func (p *Params) Charge(s State) float64 { return p.charge(&s) }

func (p *Params) charge(s *State) float64 { return num.Clamp(1-s.Q/p.C, 0, 1) }

// Plate is the share of charge at the plates. It is below the charge while
// discharging and for hours after, above it after charging, may exceed 1, and
// at 0 or below no current can be drawn.
func (p *Params) Plate(s State) float64 { return 1 - p.bound(&s)/p.C }

// bound is the charge that the plates lack, in Ah.
func (p *Params) bound(s *State) float64 {
	bound := s.Q
	for i := range p.N {
		bound += float64(p.Modes[i].A * s.U[i])
	}
	return bound
}

// Carry is the state s of a cell old as the state of p, which is the same cell
// at another temperature or age: the shares of charge stay, the ampere-hours
// change with the capacity.
func (p *Params) Carry(s State, old *Params) State {
	k := p.C / old.C
	s.Q = float64(s.Q * k)
	for i := range s.U {
		s.U[i] = float64(s.U[i] * k)
	}
	return s
}

// StoredWh is the energy left: the rested voltage integrated over the charge
// left, C g (E0 - Es (1 - g/2)) without a curve. Its fall over a step is the
// energy that left the terminals plus the heat in the cell.
func (p *Params) StoredWh(s State) float64 {
	g := p.charge(&s)
	if p.Open.N > 0 {
		return float64(p.C * p.Open.area(g))
	}
	mean := p.E0 - float64(p.Es*(1-float64(0.5*g)))
	return float64(p.C * g * mean)
}
