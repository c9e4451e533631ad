package battery_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"ridethrough/sim/internal/phys/battery"
)

// used is a cell after some history of loads, rests and charges, however
// unreasonable.
func used(t *rapid.T, p *battery.Params) battery.State {
	s := p.AtCharge(rapid.Float64Range(0, 1).Draw(t, "start"))
	for range rapid.IntRange(0, 6).Draw(t, "pieces") {
		st := p.NewStep(rapid.Float64Range(1e-6, 2).Draw(t, "hours"))
		rate := rapid.Float64Range(-3, 6).Draw(t, "rate")
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0:
			s = st.ConstantCurrent(p, s, rate*p.C)
		case 1:
			s, _, _ = st.ConstantPower(p, s, 2*rate*p.C)
		case 2:
			s, _, _ = st.ConstantResistance(p, s, 2/(p.C*(math.Abs(rate)+0.01)))
		}
	}
	return s
}

func finite(t *rapid.T, name string, values ...float64) {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%s is %v", name, values)
		}
	}
}

func TestNothingIsEverNaN(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		s := used(t, &p)
		finite(t, "state", s.Q, s.U[0], s.U[1])
		finite(t, "levels", p.Charge(s), p.Plate(s), p.StoredWh(s))
		amps := p.C * rapid.Float64Range(-5, 10).Draw(t, "amps")
		watts := p.C * rapid.Float64Range(-10, 30).Draw(t, "watts")
		finite(t, "volts", p.Volts(s, amps), p.OpenVolts(p.Charge(s)))
		byPower, _ := p.AmpsForPower(s, watts)
		byOhms, _ := p.AmpsForResistance(s, 1/p.C)
		finite(t, "amps", byPower, byOhms)
		finite(t, "runtime", p.Runtime(s, watts, 1.7), p.RuntimeAtCurrent(s, amps, 1.7), p.RuntimeAtResistance(s, 1/p.C, 1.7))
		charger := typicalCharger(p.C)
		a := charger.Amps(&p, s)
		finite(t, "charging", a, charger.Volts(&p, s, a))
		if g := p.Charge(s); g < 0 || g > 1 || s.Q < 0 {
			t.Fatalf("charge %v, Q %v", g, s.Q)
		}
	})
}

func TestChargeIsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		s := p.AtCharge(0.6)
		drawn := s.Q
		for range rapid.IntRange(1, 10).Draw(t, "pieces") {
			st := p.NewStep(rapid.Float64Range(1e-5, 0.1).Draw(t, "hours"))
			amps := 0.0
			if rapid.Bool().Draw(t, "by power") {
				s, amps, _ = st.ConstantPower(&p, s, p.C*rapid.Float64Range(-1, 3).Draw(t, "watts"))
			} else {
				amps = p.C * rapid.Float64Range(-0.4, 1).Draw(t, "amps")
				s = st.ConstantCurrent(&p, s, amps)
			}
			drawn += amps * st.Hours()
		}
		if math.Abs(s.Q-drawn) > 1e-12*p.C {
			t.Fatalf("drawn %v Ah, state says %v", drawn, s.Q)
		}
		if long := rest(&p, s, 1000); long.Q != s.Q || math.Abs(p.Plate(long)-p.Charge(s)) > 1e-9 && s.Q < p.C {
			t.Fatalf("rest moved Q from %v to %v, plates at %v of %v", s.Q, long.Q, p.Plate(long), p.Charge(s))
		}
	})
}

func TestTwoStepsAreOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		s := used(t, &p)
		if s.Q > 0.5*p.C {
			s.Q = 0.5 * p.C
		}
		a, b := rapid.Float64Range(1e-6, 0.1).Draw(t, "a"), rapid.Float64Range(1e-6, 0.1).Draw(t, "b")
		amps := p.C * rapid.Float64Range(0, 2).Draw(t, "amps")
		first, second, both := p.NewStep(a), p.NewStep(b), p.NewStep(a+b)
		two := second.ConstantCurrent(&p, first.ConstantCurrent(&p, s, amps), amps)
		one := both.ConstantCurrent(&p, s, amps)
		near := cmp.Comparer(func(x, y float64) bool { return math.Abs(x-y) <= 1e-12*(p.C+math.Abs(x)) })
		if d := cmp.Diff(one, two, near); d != "" {
			t.Fatal(d)
		}
	})
}

func TestMoreLoadNeverLastsLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		s := used(t, &p)
		watts := p.C * rapid.Float64Range(0.01, 8).Draw(t, "watts")
		more := watts * rapid.Float64Range(1.002, 2).Draw(t, "more")
		cutoff := rapid.Float64Range(1.5, 1.9).Draw(t, "cutoff")
		if a, b := p.Runtime(s, watts, cutoff), p.Runtime(s, more, cutoff); b > a*(1+1e-5)+1e-9 {
			t.Fatalf("%v W last %v h, %v W %v h", watts, a, more, b)
		}
		if a, b := p.Runtime(s, watts, cutoff), p.Runtime(s, watts, cutoff+0.02); b > a*(1+1e-5)+1e-9 {
			t.Fatalf("to %v V %v h, to more %v h", cutoff, a, b)
		}
	})
}

// The stored energy pays for what leaves the terminals; discharging heats.
func TestEnergyIsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		s := p.AtCharge(rapid.Float64Range(0.2, 1).Draw(t, "g"))
		watts := p.C * rapid.Float64Range(0.05, 2).Draw(t, "watts")
		st := p.NewStep(rapid.Float64Range(1e-4, 1e-2).Draw(t, "hours"))
		for range 50 {
			next, amps, ok := st.ConstantPower(&p, s, watts)
			if !ok {
				return
			}
			gone := p.StoredWh(s) - p.StoredWh(next)
			mean := p.OpenVolts((p.Charge(s)+p.Charge(next))/2) * amps * st.Hours()
			if math.Abs(gone-mean) > 1e-9*p.StoredWh(s) {
				t.Fatalf("stored energy fell by %v Wh, the charge drawn was worth %v", gone, mean)
			}
			if next.U[0] > 0 && gone < watts*st.Hours()*(1-1e-3) {
				t.Fatalf("%v Wh gave %v", gone, watts*st.Hours())
			}
			s = next
		}
	})
}

// A load that fades as the voltage does, on a cell whose voltage hardly shows
// that its plates are bare: the end is when they are.
func TestRuntimeEndsWithBarePlates(t *testing.T) {
	p := battery.FromC20(1)
	p.B = 0.001
	full := p.AtCharge(1)
	for name, hours := range map[string]float64{
		"resistance": p.RuntimeAtResistance(full, 0.1, 0.5),
		"power":      p.Runtime(full, 5, 0.1),
		"current":    p.RuntimeAtCurrent(full, 10, 0.1),
	} {
		if !(hours > 0 && hours < 0.3) {
			t.Errorf("%s: %v h", name, hours)
		}
	}
}

func TestRefusals(t *testing.T) {
	p := ref()
	full, empty := p.AtCharge(1), p.AtCharge(0)
	minute := p.NewStep(1.0 / 60)
	for _, c := range []struct {
		name  string
		s     battery.State
		watts float64
		ok    bool
	}{
		{"light", full, 10, true},
		{"nothing", empty, 0, true},
		{"charging an empty cell", empty, -5, true},
		{"an empty cell", empty, 1, false},
		{"more than the resistance lets through", full, 200, false}, // E0^2/4R = 127 W
	} {
		if _, ok := p.AmpsForPower(c.s, c.watts); ok != c.ok {
			t.Errorf("%s: %v", c.name, ok)
		}
		next, amps, ok := minute.ConstantPower(&p, c.s, c.watts)
		if ok != c.ok || !ok && (next != c.s || amps != 0) {
			t.Errorf("step, %s: %v, %v A", c.name, ok, amps)
		}
	}
	for _, c := range []struct{ got, want float64 }{
		{p.Runtime(full, 0, 1.75), battery.MaxRuntime},
		{p.Runtime(full, -3, 1.75), battery.MaxRuntime},
		{p.Runtime(full, 1e-4, 1.75), battery.MaxRuntime},
		{p.Runtime(full, math.NaN(), 1.75), 0},
		{p.Runtime(full, 1000, 1.75), 0},
		{p.Runtime(empty, 1, 1.75), 0},
		{p.Runtime(full, 10, 3), 0},
		{p.OpenVolts(0), 1.94},
		{p.Volts(empty, 0), 1.94},
		{p.Volts(empty, 1), 0},
	} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("got %v, want %v", c.got, c.want)
		}
	}
}

func TestAFullCellTakesNoMore(t *testing.T) {
	p := ref()
	st := p.NewStep(1)
	s := st.ConstantCurrent(&p, p.AtCharge(0.95), -2)
	if s.Q != 0 {
		t.Errorf("Q = %v", s.Q)
	}
	if again := st.ConstantCurrent(&p, s, -2); again.Q != 0 || math.Abs(again.U[0]) > math.Abs(s.U[0]) {
		t.Errorf("a full cell went from %v to %v", s, again)
	}
}

func TestCarryKeepsTheShares(t *testing.T) {
	p := ref()
	s := deliver(t, &p, p.AtCharge(1), 12, 0.3)
	aged := p.Scaled(0.8, 1.5)
	moved := aged.Carry(s, &p)
	if math.Abs(aged.Charge(moved)-p.Charge(s)) > 1e-12 || math.Abs(aged.Plate(moved)-p.Plate(s)) > 1e-12 {
		t.Errorf("charge %v became %v, plates %v became %v", p.Charge(s), aged.Charge(moved), p.Plate(s), aged.Plate(moved))
	}
}

func TestValidate(t *testing.T) {
	good := ref()
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*battery.Params){
		"capacity":   func(p *battery.Params) { p.C = 0 },
		"NaN":        func(p *battery.Params) { p.C = math.NaN() },
		"infinite":   func(p *battery.Params) { p.R = math.Inf(1) },
		"modes":      func(p *battery.Params) { p.N = 11 },
		"no modes":   func(p *battery.Params) { p.N = -1 },
		"weight":     func(p *battery.Params) { p.Modes[1].A = -1 },
		"decay":      func(p *battery.Params) { p.Modes[0].Lambda = 0 },
		"voltage":    func(p *battery.Params) { p.E0 = -2 },
		"fall":       func(p *battery.Params) { p.Es = 3 },
		"resistance": func(p *battery.Params) { p.R = -1 },
		"over":       func(p *battery.Params) { p.B = math.NaN() },
	} {
		p := ref()
		spoil(&p)
		if err := p.Validate(); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// The mean of ln C/s, ln a1, ln a2, ln lambda1, ln lambda2, E0, ln Es, ln R s
// and ln B over the fits of seven families of blocks (derived).
func TestFromC20IsThePopulationMean(t *testing.T) {
	p := battery.FromC20(10)
	got := []float64{
		math.Log(p.C / 10), math.Log(p.Modes[0].A), math.Log(p.Modes[1].A), math.Log(p.Modes[0].Lambda),
		math.Log(p.Modes[1].Lambda), p.E0, math.Log(p.Es), math.Log(p.R * 10), math.Log(p.B),
	}
	want := []float64{0.089, 0.704, -0.264, 2.937, -0.210, 2.118, -1.807, -2.434, -1.865}
	if d := cmp.Diff(want, got, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-4 })); d != "" {
		t.Error(d)
	}
	// What the name promises, within the spread of the families: 20 h to 1.75 V.
	if h := p.RuntimeAtCurrent(p.AtCharge(1), 0.5, 1.75); math.Abs(h-20) > 1 {
		t.Errorf("a 10 Ah cell gives 0.5 A for %v h", h)
	}
}
