package power_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/checks"
	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/power"
)

func TestLossCurve(t *testing.T) {
	c := checks.Load(t)
	curve := power.LossCurve{NoLoad: 0.020, Linear: 0.020, Quadratic: 0.025}
	for id, x := range map[string]float64{"EFF-01": 0.1, "EFF-02": 0.25, "EFF-03": 0.5, "EFF-04": 0.75, "EFF-05": 1} {
		c.Number(t, id, curve.Efficiency(x*3000, 3000))
	}
	c.Number(t, "EFF-06", curve.BestLoad())
	if got := curve.Efficiency(0, 3000); got != 0 {
		t.Errorf("efficiency without load %v", got)
	}
	if got := curve.Loss(0, 3000); math.Abs(got-60) > 1e-9 {
		t.Errorf("loss without load %v W, want 60", got)
	}
}

func TestCurveThroughThreePoints(t *testing.T) {
	c := checks.Load(t)
	gold := power.LossThrough([3]power.EfficiencyPoint{{0.2, 0.87}, {0.5, 0.90}, {1, 0.87}})
	c.Number(t, "EFF-07", gold.NoLoad)
	c.Number(t, "EFF-08", gold.Linear)
	c.Number(t, "EFF-09", gold.Quadratic)
	// Row EFF-10 is the curve with its negative term; without it the loss grows
	// by 0.0029 of the rating there, and the efficiency falls by 0.3 points.
	c.Within(t, "EFF-10", gold.Efficiency(0.75, 1), 0.004)
	raw := gold.NoLoad + gold.Linear*0.75 + gold.Quadratic*0.75*0.75
	c.Number(t, "EFF-10", 0.75/(0.75+raw))
}

func TestEfficiencyStaysBelowOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		curve := power.LossCurve{
			NoLoad:    rapid.Float64Range(0, 0.1).Draw(t, "a"),
			Linear:    rapid.Float64Range(-0.1, 0.1).Draw(t, "b"),
			Quadratic: rapid.Float64Range(0, 0.1).Draw(t, "c"),
		}
		watts := rapid.Float64Range(0, 6000).Draw(t, "watts")
		if e := curve.Efficiency(watts, 3000); !(e >= 0 && e <= 1) {
			t.Fatalf("efficiency %v at %v W", e, watts)
		}
		if more := curve.Loss(watts+1, 3000); more < curve.Loss(watts, 3000) {
			t.Fatalf("loss falls at %v W", watts)
		}
	})
}

func TestPower(t *testing.T) {
	c := checks.Load(t)
	flat := func(efficiency float64) power.LossCurve { return power.LossCurve{Linear: 1/efficiency - 1} }
	c.Number(t, "EFF-12", flat(0.932).Loss(1200, 3000))
	c.Number(t, "PWR-02", power.PowerFactor(800, 230*4.35))
	c.Number(t, "PWR-03", power.LoadPct(2000, 2000/0.60, 2700, 3000))
	c.Number(t, "PWR-04", power.LoadPct(2600, 2600/0.98, 2700, 3000))
	c.Number(t, "PWR-07", (1200+flat(0.92).Loss(1200, 3000))/(2*36))
	c.Number(t, "PWR-08", power.ChargingInputW(flat(0.932), 1200, 3000, 150, 0.90))
	if power.PowerFactor(0, 0) != 1 {
		t.Error("no load has no power factor of 1")
	}
	for pct, want := range map[float64]float64{-1: 0, 0: 0, 99.5: 99.5, 250: 200} {
		if got := power.ShownLoadPct(pct); got != want {
			t.Errorf("%v %% is shown as %v", pct, got)
		}
	}
}

func TestOverload(t *testing.T) {
	c := checks.Load(t)
	o := power.OverloadAt(60, 1.25)
	c.Number(t, "PWR-10", o.TripIn(0, 1.5))
	c.Number(t, "PWR-11", o.TripIn(0, 1.1))
	o.Limit = 2
	for _, row := range []struct{ got, want float64 }{
		{o.TripIn(0, 1), math.Inf(1)},
		{o.TripIn(0.5, 1.25), 30},
		{o.TripIn(1, 0.2), 0},
		{o.TripIn(0, 2), 0},
		{o.Step(0, 2, 0.001), 1},
		{o.Step(0.25, 1.25, 30), 0.75},
		{o.Step(0.9, 1.25, 30), 1},
		{o.Step(0.5, 1, 120), 0.5 / math.E},
		{power.Overload{K: 1, From: 1}.Step(0.5, 1, 1), 0},
		{power.Overload{K: 1, From: 1.1}.Step(0, 1.05, 1e9), 0},
	} {
		if row.got != row.want && !(math.Abs(row.got-row.want) <= 1e-9*row.want) {
			t.Errorf("got %v, want %v", row.got, row.want)
		}
	}
}

func TestOverloadTripsWhenItSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := power.OverloadAt(60, 1.25)
		x := rapid.Float64Range(1.01, 3).Draw(t, "x")
		filled := rapid.Float64Range(0, 0.99).Draw(t, "filled")
		in := o.TripIn(filled, x)
		if early := o.Step(filled, x, in*0.999); early >= 1 {
			t.Fatal("trips early")
		}
		if late := o.Step(filled, x, in*1.001); late != 1 {
			t.Fatalf("at %v after its time", late)
		}
	})
}

func TestTap(t *testing.T) {
	for _, row := range []struct {
		tap   power.Tap
		volts float64
		amps  float64
	}{{power.Boost, 224, 2.24}, {power.Direct, 200, 2}, {power.Reduce, 200 / 1.12, 2 / 1.12}} {
		v, a := row.tap.Volts(200, 1.12), row.tap.Amps(2, 1.12)
		if math.Abs(v-row.volts) > 1e-9 || math.Abs(a-row.amps) > 1e-9 {
			t.Errorf("tap %d: %v V, %v A", row.tap, v, a)
		}
		if in, out := 200*a, v*2; math.Abs(in-out) > 1e-9 {
			t.Errorf("tap %d: %v VA in, %v VA out", row.tap, in, out)
		}
	}
}

// TestDynamicClass: IEC 62040-3, output dynamic performance; class 2 from memory.
func TestDynamicClass(t *testing.T) {
	for gap, want := range map[float64]int{0: 1, 0.0005: 2, 0.001: 2, 0.002: 3, 0.010: 3, 0.011: 4, 1: 4} {
		if got := power.DynamicClass(gap); got != want {
			t.Errorf("%v s: class %d, want %d", gap, got, want)
		}
	}
}

// TestMinimumEfficiency: the defaults of a scenario against the least weighted
// efficiency of DOE 10 CFR 430.32(z) for units above 700 W (from memory): the sum
// a P^2 + b P + c, weights for more than 1500 W 25/50/75 % 0.25/0.5/0.25.
func TestMinimumEfficiency(t *testing.T) {
	const ratingW = 2700
	for name, row := range map[string]struct {
		curve   power.LossCurve
		a, b, c float64
	}{
		"VFI": {power.LossCurve{NoLoad: 0.020, Linear: 0.020, Quadratic: 0.025}, -1.70e-8, 3.85e-5, 0.876},
		"VI":  {power.LossCurve{NoLoad: 0.010, Linear: 0.003, Quadratic: 0.007}, -4.62e-9, 8.54e-6, 0.979},
		"VFD": {power.LossCurve{NoLoad: 0.005, Linear: 0.002, Quadratic: 0.003}, -7.23e-9, 7.52e-6, 0.977},
	} {
		e := func(x float64) float64 { return row.curve.Efficiency(x*ratingW, ratingW) }
		got := 0.25*e(0.25) + 0.5*e(0.5) + 0.25*e(0.75)
		least := row.a*ratingW*ratingW + row.b*ratingW + row.c
		if got < least {
			t.Errorf("%s: weighted efficiency %.4f, least %.4f", name, got, least)
		}
	}
}
