package battery_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/phys/battery"
)

// slow is the obvious second implementation: the equations of the package
// documentation, walked in tiny Euler steps, in hours until the voltage is at
// or below cutoff.
func slow(p battery.Params, g, watts, cutoff, dt float64) float64 {
	q := p.C * (1 - g)
	u := make([]float64, p.N)
	last := math.Inf(1)
	for t := 0.0; t < battery.MaxRuntime; t += dt {
		g := 1 - q/p.C
		y := g
		for m := range u {
			y -= p.Modes[m].A * u[m] / p.C
		}
		a := p.E0 - p.Es*(1-g) + p.B*math.Log(y/g)
		root := a*a - 4*p.R*watts
		if y <= 0 || root < 0 {
			return t
		}
		i := 2 * watts / (a + math.Sqrt(root))
		v := a - p.R*i
		if v <= cutoff {
			if t == 0 {
				return 0
			}
			return t - dt*(cutoff-v)/(last-v)
		}
		last = v
		q += i * dt
		for m := range u {
			u[m] += (i - p.Modes[m].Lambda*u[m]) * dt
		}
	}
	return battery.MaxRuntime
}

// cellOf is the typical block of that 20-hour capacity with every figure times a factor.
func cellOf(ah, a1, a2, l1, l2, e0, es, r, b float64) battery.Params {
	p := battery.FromC20(ah)
	p.Modes[0].A *= a1
	p.Modes[1].A *= a2
	p.Modes[0].Lambda *= l1
	p.Modes[1].Lambda *= l2
	p.E0 *= e0
	p.Es *= es
	p.R *= r
	p.B *= b
	return p
}

// cell draws a plausible one.
func cell(t *rapid.T) battery.Params {
	by := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	p := cellOf(by("ah", 1, 200), by("a1", 0.3, 3), by("a2", 0.3, 3), by("l1", 0.3, 4), by("l2", 0.3, 3),
		by("e0", 0.95, 1.1), by("es", 0.4, 2), by("r", 0.2, 2), by("b", 0.3, 3))
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestRuntimeAgreesWithTinySteps(t *testing.T) {
	worst := 0.0
	rapid.Check(t, func(t *rapid.T) {
		p := cell(t)
		g := rapid.Float64Range(0.3, 1).Draw(t, "g")
		watts := p.C * rapid.Float64Range(0.1, 6).Draw(t, "rate")
		cutoff := rapid.Float64Range(1.55, 1.85).Draw(t, "cutoff")
		fast := p.Runtime(p.AtCharge(g), watts, cutoff)
		if fast < 1e-3 {
			t.Skip("over at once")
		}
		// Richardson: the error of Euler's method halves with its step.
		coarse, fine := slow(p, g, watts, cutoff, fast/20000), slow(p, g, watts, cutoff, fast/40000)
		want := 2*fine - coarse
		worst = max(worst, math.Abs(fast/want-1))
		if math.Abs(fast/want-1) > 1e-3 {
			t.Fatalf("%v h, tiny steps say %v h (%+.3f %%)", fast, want, 100*(fast/want-1))
		}
	})
	t.Logf("largest difference %.4f %%", 100*worst)
}

func TestStepsAgreeWithRuntime(t *testing.T) {
	p := ref()
	for _, watts := range []float64{4, 12, 20, 36} {
		second := p.NewStep(1.0 / 3600)
		s, hours := p.AtCharge(1), 0.0
		for {
			next, amps, ok := second.ConstantPower(&p, s, watts)
			if !ok || p.Volts(next, amps) <= 1.75 {
				break
			}
			s, hours = next, hours+second.Hours()
		}
		want := p.Runtime(p.AtCharge(1), watts, 1.75)
		if math.Abs(hours-want) > 1.5/3600+1e-3*want {
			t.Errorf("%v W: %v h in steps, %v h at once", watts, hours, want)
		}
	}
}
