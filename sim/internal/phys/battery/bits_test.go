package battery_test

import (
	"math"
	"testing"
)

// The digest is the promise that a run gives the same bytes on every machine.
// Record it anew only together with a change of the model that is meant.
func TestBitsAreFixed(t *testing.T) {
	var sum uint64
	add := func(values ...float64) {
		for _, v := range values {
			sum = sum*0x100000001b3 ^ math.Float64bits(v)
		}
	}
	p := ref()
	charger := typicalCharger(p.C)
	s := p.AtCharge(1)
	st := p.NewStep(10.0 / 3600)
	for i := range 400 {
		next, amps, ok := st.ConstantPower(&p, s, 5+float64(i%7))
		if !ok {
			t.Fatal("the cell is empty")
		}
		if i%3 == 0 {
			next, amps = charger.Step(&st, &p, next)
		}
		s = next
		add(s.Q, s.U[0], s.U[1], amps, p.Volts(s, amps), p.StoredWh(s), charger.Volts(&p, s, amps))
		if i%20 == 0 {
			add(p.Runtime(s, 12, 1.7), p.RuntimeAtCurrent(s, 3, 1.7), p.RuntimeAtResistance(s, 0.5, 1.7))
		}
	}
	if want := uint64(0xff449bcec10aeddb); sum != want {
		t.Errorf("digest %#x, want %#x", sum, want)
	}
}
