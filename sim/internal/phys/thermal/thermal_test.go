package thermal_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/phys/thermal"
)

func TestPublishedFigures(t *testing.T) {
	c := checks.Load(t)
	block := thermal.Node{HeatJPerK: 2.2 * 900, CoolWPerK: 0.5}
	c.Number(t, "THM-01", block.Step(20, 10, 20, 600)-20)
	c.Number(t, "THM-02", block.Tau())
	c.Number(t, "THM-03", block.Rise(10))
	room := thermal.Node{HeatJPerK: 40*1.2*1005 + 500*500}
	c.Number(t, "THM-04", room.Step(24, 4000, 24, 600)-24)
}

// slow is the equation in tiny steps.
func slow(n thermal.Node, tempC, lossW, ambientC, seconds float64) float64 {
	const steps = 20000
	for range steps {
		tempC += (lossW - n.CoolWPerK*(tempC-ambientC)) / n.HeatJPerK * seconds / steps
	}
	return tempC
}

func TestStepAgreesWithTinySteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := thermal.Node{
			HeatJPerK: rapid.Float64Range(100, 1e5).Draw(t, "heat"),
			CoolWPerK: rapid.Float64Range(0, 50).Draw(t, "cool"),
		}
		temp, ambient := rapid.Float64Range(-20, 80).Draw(t, "temp"), rapid.Float64Range(-20, 50).Draw(t, "ambient")
		loss := rapid.Float64Range(0, 1000).Draw(t, "loss")
		seconds := rapid.Float64Range(0, min(5*n.Tau(), 1e4)).Draw(t, "seconds")
		got, want := n.Step(temp, loss, ambient, seconds), slow(n, temp, loss, ambient, seconds)
		if math.Abs(got-want) > 1e-3*(1+math.Abs(want-temp)) {
			t.Fatalf("%v C, tiny steps say %v C", got, want)
		}
		half := n.Step(n.Step(temp, loss, ambient, seconds/2), loss, ambient, seconds/2)
		if math.Abs(half-got) > 1e-9*(1+math.Abs(got)) {
			t.Fatalf("two halves give %v C, the whole %v C", half, got)
		}
	})
}

func TestLimits(t *testing.T) {
	n := thermal.Node{HeatJPerK: 1000, CoolWPerK: 2}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"no time", n.Step(30, 50, 20, 0), 30},
		{"for years", n.Step(30, 50, 20, 1e9), 45},
		{"at rest", n.Step(20, 0, 20, 1e6), 20},
		{"no loss of heat, no heat", thermal.Node{HeatJPerK: 1}.Step(20, 0, 5, 1e6), 20},
		{"no loss of heat, time constant", thermal.Node{HeatJPerK: 1}.Tau(), math.Inf(1)},
		{"no loss of heat, rise", thermal.Node{HeatJPerK: 1}.Rise(1), math.Inf(1)},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.name, c.got, c.want)
		}
	}
}
