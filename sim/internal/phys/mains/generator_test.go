package mains_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/mains"
)

// An invented machine of common figures: 2 % droop, a step of its rating costs
// 8 % more for a while.
var machine = mains.Generator{
	Volts: 230, Hz: 50, SettleS: 40, PeriodS: 8, WanderV: 12, WanderHz: 2,
	DroopHz: 1, StepHz: 4, StepV: 46, RecoverS: 1.5,
}

func TestGenerator(t *testing.T) {
	full := mains.Burden{Load: 1, Felt: 1, Caught: 1}
	for _, row := range []struct {
		name      string
		since     float64
		burden    mains.Burden
		volts, hz float64
	}{
		{"at its start", 0, mains.Burden{}, 230, 50},
		{"first turn of the wandering: a quarter period, 1/20 of the time", 2, mains.Burden{}, 230 - 12*0.95, 50 - 2*0.95},
		{"second", 6, mains.Burden{}, 230 + 12*0.85, 50 + 2*0.85},
		{"settled", 40, mains.Burden{}, 230, 50},
		{"full load, steady", 100, full, 230, 49},
		{"full load, just put on", 100, mains.Burden{Load: 1}, 230, 50},
		{"far too much load", 100, mains.Burden{Load: 50, Felt: 30}, 0, 0},
	} {
		volts, hz := machine.At(row.since, row.burden)
		if math.Abs(volts-row.volts) > 1e-9 || math.Abs(hz-row.hz) > 1e-9 {
			t.Errorf("%s: %v V %v Hz, want %v V %v Hz", row.name, volts, hz, row.volts, row.hz)
		}
	}
}

// After a step of the rating the voltage is lowest by StepV, a little later than a
// third of the time constant (ln 5/4), and the frequency by StepHz and what of the
// droop has come by then. A load taken off does the opposite.
func TestGeneratorStep(t *testing.T) {
	lowest, at := 230.0, 0.0
	for ms := range 10_000 {
		s := float64(ms) / 1000
		b := machine.Bear(mains.Burden{}, 1, s)
		volts, hz := machine.At(100, b)
		if volts < lowest {
			lowest, at = volts, s
		}
		if want := 50 - 4*b.Step() - b.Caught; math.Abs(hz-want) > 1e-9 {
			t.Fatalf("%v Hz after %v s, want %v", hz, s, want)
		}
		up, _ := machine.At(100, machine.Bear(mains.Burden{Load: 1, Felt: 1, Caught: 1}, 0, s))
		if math.Abs(up+volts-460) > 1e-9 {
			t.Fatalf("%v V up, %v V down after %v s", up, volts, s)
		}
	}
	if math.Abs(lowest-184) > 1e-3 || math.Abs(at-1.5*math.Log(5)/4) > 0.002 {
		t.Errorf("lowest at %v s with %v V", at, lowest)
	}
}

// After a step 63 % is caught up within the time constant, whatever the steps.
func TestGeneratorCatchesUp(t *testing.T) {
	if got := machine.Bear(mains.Burden{}, 1, machine.RecoverS).Caught; math.Abs(got-(1-1/math.E)) > 1e-12 {
		t.Errorf("%v caught up in one time constant", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float64Range(0, 1.5)
		load, b := share.Draw(t, "load"), mains.Burden{Felt: share.Draw(t, "felt"), Caught: share.Draw(t, "caught")}
		dt := rapid.Float64Range(0, 60).Draw(t, "seconds")
		whole, halves := machine.Bear(b, load, dt), machine.Bear(machine.Bear(b, load, dt/2), load, dt/2)
		if math.Abs(whole.Felt-halves.Felt) > 1e-9 || math.Abs(whole.Caught-halves.Caught) > 1e-9 {
			t.Fatalf("%+v in one step, %+v in two", whole, halves)
		}
		if math.Abs(whole.Caught-load) > math.Abs(b.Caught-load)+1e-15 || math.Abs(whole.Felt-load) > math.Abs(b.Felt-load)+1e-15 {
			t.Fatalf("from %+v it went away from %v to %+v", b, load, whole)
		}
	})
}

func TestWanderingStaysWithinAndDiesOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		since := rapid.Float64Range(0, 60).Draw(t, "since")
		volts, hz := machine.At(since, mains.Burden{})
		left := max(0, 1-since/machine.SettleS)
		if math.Abs(hz-50) > 2*left+1e-9 || math.Abs(volts-230) > 12*left+1e-9 {
			t.Fatalf("%v V %v Hz after %v s", volts, hz, since)
		}
		// It is continuous: no jump of more than its steepest slope allows.
		_, next := machine.At(since+0.001, mains.Burden{})
		if math.Abs(next-hz) > 0.001*2*4/machine.PeriodS+0.001*2/machine.SettleS+1e-9 {
			t.Fatalf("%v Hz, a millisecond later %v", hz, next)
		}
	})
}

func TestDrift(t *testing.T) {
	d := mains.Drift{From: 230, To: 200, Seconds: 60}
	for at, want := range map[float64]float64{0: 230, 15: 222.5, 59.999: 200.0005, 60: 200, 1e9: 200} {
		if got := d.At(at); math.Abs(got-want) > 1e-9 {
			t.Errorf("after %v s: %v V, want %v", at, got, want)
		}
	}
}
