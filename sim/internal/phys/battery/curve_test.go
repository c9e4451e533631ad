package battery_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/phys/battery"
	"ridethrough/sim/internal/phys/num"
)

// plateau is the rested voltage of lithium iron phosphate (from memory).
func plateau() battery.Curve {
	return battery.CurveThrough(
		num.Knot{X: 0, Y: 2.50}, num.Knot{X: 0.1, Y: 3.13}, num.Knot{X: 0.2, Y: 3.22}, num.Knot{X: 0.4, Y: 3.28},
		num.Knot{X: 0.7, Y: 3.30}, num.Knot{X: 0.9, Y: 3.33}, num.Knot{X: 1, Y: 3.34},
	)
}

func TestCurveIsTheRestedVoltage(t *testing.T) {
	p := ref()
	p.Open = plateau()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ g, want float64 }{{0, 2.5}, {0.05, 2.815}, {0.1, 3.13}, {0.55, 3.29}, {1, 3.34}, {1.2, 3.34}, {-1, 2.5}} {
		if got := p.OpenVolts(c.g); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("at %v: %v V, want %v", c.g, got, c.want)
		}
	}
	// The terminal voltage of a rested cell is that, and its stored energy the
	// integral of it.
	for _, g := range []float64{0, 0.03, 0.1, 0.37, 0.9, 1} {
		s := p.AtCharge(g)
		if got := p.Volts(s, 0); math.Abs(got-p.OpenVolts(g)) > 1e-9 {
			t.Errorf("at %v: %v V", g, got)
		}
		const n = 100_000
		sum := 0.0
		for i := range n {
			sum += p.OpenVolts(g*(float64(i)+0.5)/n) * g / n
		}
		if got := p.StoredWh(s); math.Abs(got-p.C*sum) > 1e-6 {
			t.Errorf("at %v: %v Wh, want %v", g, got, p.C*sum)
		}
	}
}

// A straight line as a curve is the straight line.
func TestStraightCurveChangesNothing(t *testing.T) {
	line, curve := ref(), ref()
	curve.Open = battery.CurveThrough(num.Knot{X: 0, Y: line.E0 - line.Es}, num.Knot{X: 0.3, Y: line.E0 - 0.7*line.Es}, num.Knot{X: 1, Y: line.E0})
	for _, watts := range []float64{0.66, 4, 12, 36} {
		a, b := line.Runtime(line.AtCharge(1), watts, 1.75), curve.Runtime(curve.AtCharge(1), watts, 1.75)
		if math.Abs(a/b-1) > 1e-9 {
			t.Errorf("%v W: %v h as a line, %v h as a curve", watts, a, b)
		}
	}
	if a, b := line.StoredWh(line.AtCharge(0.7)), curve.StoredWh(curve.AtCharge(0.7)); math.Abs(a-b) > 1e-12 {
		t.Errorf("%v Wh as a line, %v Wh as a curve", a, b)
	}
}

func TestCurveIsValidated(t *testing.T) {
	for name, c := range map[string]battery.Curve{
		"one knot":         battery.CurveThrough(num.Knot{X: 0, Y: 2}),
		"not from 0":       battery.CurveThrough(num.Knot{X: 0.1, Y: 2}, num.Knot{X: 1, Y: 3}),
		"not to 1":         battery.CurveThrough(num.Knot{X: 0, Y: 2}, num.Knot{X: 0.9, Y: 3}),
		"falls":            battery.CurveThrough(num.Knot{X: 0, Y: 2}, num.Knot{X: 0.5, Y: 3}, num.Knot{X: 1, Y: 2.9}),
		"turns back":       battery.CurveThrough(num.Knot{X: 0, Y: 2}, num.Knot{X: 0.5, Y: 3}, num.Knot{X: 0.5, Y: 3.1}, num.Knot{X: 1, Y: 3.2}),
		"no volts":         battery.CurveThrough(num.Knot{X: 0, Y: 0}, num.Knot{X: 1, Y: 3}),
		"not a number":     battery.CurveThrough(num.Knot{X: 0, Y: 2}, num.Knot{X: math.NaN(), Y: 2.5}, num.Knot{X: 1, Y: 3}),
		"endless":          battery.CurveThrough(num.Knot{X: 0, Y: 2}, num.Knot{X: 1, Y: math.Inf(1)}),
		"too many":         {N: battery.MaxKnots + 1},
		"negative":         {N: -1},
		"knots out of use": {N: 2},
	} {
		p := ref()
		p.Open = c
		if err := p.Validate(); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// flat is a plausible cell with a plateau.
func flat(t *rapid.T) battery.Params {
	p := cell(t)
	p.Open = plateau()
	return p
}

func TestCurvesKeepTheRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := flat(t)
		s := used(t, &p)
		watts := p.C * rapid.Float64Range(0.01, 10).Draw(t, "watts")
		more := watts * rapid.Float64Range(1.002, 2).Draw(t, "more")
		cutoff := rapid.Float64Range(2.4, 3.3).Draw(t, "cutoff")
		a, b := p.Runtime(s, watts, cutoff), p.Runtime(s, more, cutoff)
		finite(t, "runtime", a, b, p.StoredWh(s), p.Volts(s, watts/3))
		if b > a*(1+1e-5)+1e-9 {
			t.Fatalf("%v W last %v h, %v W %v h", watts, a, more, b)
		}
	})
}

// Older or colder never lasts longer.
func TestAgeAndColdNeverHelp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		watts := p.C * rapid.Float64Range(0.05, 8).Draw(t, "watts")
		cutoff := rapid.Float64Range(1.55, 1.85).Draw(t, "cutoff")
		lasts := func(capacity, resistance float64) float64 {
			q := p.Scaled(capacity, resistance)
			return q.Runtime(q.AtCharge(1), watts, cutoff)
		}
		young := rapid.Float64Range(0, 2).Draw(t, "damage")
		old := young + rapid.Float64Range(0.01, 1).Draw(t, "more damage")
		if a, b := lasts(battery.AgedCapacity(young), battery.AgedResistance(young)), lasts(battery.AgedCapacity(old), battery.AgedResistance(old)); b > a*(1+1e-5)+1e-9 {
			t.Fatalf("damage %v lasts %v h, %v %v h", young, a, old, b)
		}
		warm := rapid.Float64Range(-30, 60).Draw(t, "temperature")
		cold := warm - rapid.Float64Range(0.1, 30).Draw(t, "colder by")
		if a, b := lasts(battery.CapacityFactor(warm), battery.ResistanceFactor(warm)), lasts(battery.CapacityFactor(cold), battery.ResistanceFactor(cold)); b > a*(1+1e-5)+1e-9 {
			t.Fatalf("%v C lasts %v h, %v C %v h", warm, a, cold, b)
		}
	})
}

func TestCapacityIn(t *testing.T) {
	p := ref()
	for _, hours := range []float64{0.1, 1, 10, 20} {
		ah := p.CapacityIn(hours, 1.75)
		if got := p.RuntimeAtCurrent(p.AtCharge(1), ah/hours, 1.75); math.Abs(got/hours-1) > 1e-4 {
			t.Errorf("%v Ah in %v h last %v h", ah, hours, got)
		}
	}
	if ah := p.CapacityIn(20, 3); ah != 0 {
		t.Errorf("to a voltage that it never has it gives %v Ah", ah)
	}
	// One mode: the published capacity of the kinetic model (Manwell and McGowan),
	// q = qmax k c T / [1 - e + c (k T - 1 + e)]; 20 h, k = 0.5, c = 0.3, 100 Ah.
	kinetic := battery.KineticFrom(100, 0.3, 0.5)
	gone := 1 - math.Exp(-10)
	if got, want := kinetic.CapacityIn(20, 1), 100*0.5*0.3*20/(gone+0.3*(10-gone)); math.Abs(got/want-1) > 1e-5 {
		t.Errorf("kinetic model: %v Ah, want %v", got, want)
	}
}
