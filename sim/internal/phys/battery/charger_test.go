package battery_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/checks"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/battery"
)

func typicalCharger(ah float64) battery.Charger {
	return battery.Charger{SetV: 2.27, MaxA: 0.15 * ah, Efficiency: 0.97, FloatA: 0.002 * ah}
}

// chart is a charge at 0.1 C to 2.25 V from empty, per Ah of capacity.
func chart() (battery.Params, battery.Charger) {
	p := battery.Params{C: 1, E0: 2.14, Es: 0.20, R: 0.1}
	return p, battery.Charger{SetV: 2.25, MaxA: 0.1, Efficiency: 0.97}
}

// record is a charge from empty in steps of 10 s, one entry after each: the
// current taken, the charge returned so far in Ah and the cell's charge.
type record []struct{ hours, amps, returned, charge float64 }

func recharge(p *battery.Params, c *battery.Charger, hours float64) record {
	st := p.NewStep(1.0 / 360)
	r := make(record, int(hours*360))
	s, returned := p.AtCharge(0), 0.0
	for i := range r {
		next, amps := c.Step(&st, p, s)
		s, returned = next, returned+amps*st.Hours()
		r[i].hours, r[i].amps, r[i].returned, r[i].charge = float64(i+1)/360, amps, returned, p.Charge(s)
	}
	return r
}

// when is the first time that holds is true of an entry.
func (r record) when(t *testing.T, holds func(amps, returned, charge float64) bool) float64 {
	t.Helper()
	for _, e := range r {
		if holds(e.amps, e.returned, e.charge) {
			return e.hours
		}
	}
	t.Fatal("never came")
	return 0
}

func TestChargingFollowsTheModel(t *testing.T) {
	c := checks.Load(t)
	p, charger := chart()
	r := recharge(&p, &charger, 15)
	c.Number(t, "CHG-06", r.when(t, func(amps, _, _ float64) bool { return amps < 0.1 }))
	c.Number(t, "CHG-07", r.when(t, func(_, returned, _ float64) bool { return returned >= 0.8 }))
	c.Number(t, "CHG-08", r.when(t, func(_, returned, _ float64) bool { return returned >= 0.9 }))
	c.Number(t, "CHG-09", r.when(t, func(_, _, charge float64) bool { return charge >= 0.9 }))
}

func TestChargingFollowsTheChart(t *testing.T) {
	c := checks.Load(t)
	p, charger := chart()
	charger.FloatA = 0.002
	r := recharge(&p, &charger, 20)
	c.Number(t, "CHG-01", r.when(t, func(amps, _, _ float64) bool { return amps < 0.1 }))
	at := func(hours float64) int { return int(hours*360) - 1 }
	c.Number(t, "CHG-02", r[at(10)].amps)
	c.Number(t, "CHG-03", r[at(12)].amps)
	c.Number(t, "CHG-04", r[at(20)].amps)
	c.Number(t, "CHG-05", 100*r[at(16)].returned)
}

func TestConstantCurrentPartOfARecharge(t *testing.T) {
	c := checks.Load(t)
	p := battery.Params{C: 9, E0: 2.14, Es: 0.2, R: 0.01}
	charger := battery.Charger{SetV: 100, MaxA: 0.9, Efficiency: 0.97} // no constant-voltage part
	st := p.NewStep(1.0 / 3600)
	s, hours := p.AtCharge(0.5), 0.0
	for p.Charge(s) < 1 {
		s, _ = charger.Step(&st, &p, s)
		hours += st.Hours()
	}
	c.Number(t, "CHG-10", hours)
}

func TestChargerAtItsLimits(t *testing.T) {
	p := ref()
	c := typicalCharger(p.C)
	full, empty := p.AtCharge(1), p.AtCharge(0)
	for _, row := range []struct {
		name      string
		got, want float64
	}{
		{"full", c.Amps(&p, full), c.FloatA},
		{"full, volts", c.Volts(&p, full, c.FloatA), c.SetV},
		{"empty", c.Amps(&p, empty), c.MaxA},
		{"no limit left", (&battery.Charger{SetV: 2.27}).Amps(&p, empty), 0},
		{"set below the cell", (&battery.Charger{SetV: 1.9, MaxA: 1, FloatA: 0.01}).Amps(&p, empty), 0.01},
	} {
		if row.got != row.want {
			t.Errorf("%s: %v, want %v", row.name, row.got, row.want)
		}
	}
	if v := c.Volts(&p, empty, c.MaxA); v <= p.OpenVolts(0) || v >= c.SetV {
		t.Errorf("an empty cell shows %v V", v)
	}
}

func TestChargingOnlyEverFills(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		c := typicalCharger(p.C)
		s := p.AtCharge(rapid.Float64Range(0, 1).Draw(t, "g"))
		st := p.NewStep(rapid.Float64Range(1e-4, 2).Draw(t, "hours"))
		g, v := p.Charge(s), 0.0
		for range 40 {
			var amps float64
			s, amps = c.Step(&st, &p, s)
			now, volts := p.Charge(s), c.Volts(&p, s, c.Amps(&p, s))
			if now < g || amps < 0 || amps > c.MaxA || volts > max(c.SetV, p.E0)+1e-12 || volts < v-1e-9 {
				t.Fatalf("charge %v to %v, %v A, %v V after %v V", g, now, amps, volts, v)
			}
			g, v = now, volts
		}
		if s.Q < 0 || math.IsNaN(s.U[0]) {
			t.Fatal(s)
		}
	})
}
