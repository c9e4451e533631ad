package thermal_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	_ "ridethrough/sim/internal/drawn"
	"ridethrough/sim/internal/phys/thermal"
)

// The room of check THM-04, 40 m3 of air and 500 kg of equipment.
var room = thermal.Node{HeatJPerK: 40*1.2*1005 + 500*500, CoolWPerK: 20}

func TestCoolingHoldsItsSetpoint(t *testing.T) {
	c := thermal.Cooling{SetpointC: 24, MaxW: 5000}
	for _, row := range []struct {
		name               string
		from, heat, outC   float64
		seconds, want, tol float64
	}{
		{"at the setpoint it stays", 24, 4000, 20, 3600, 24, 0},
		{"from below it comes to the setpoint", 20, 4000, 20, 3600, 24, 0},
		{"from above likewise", 30, 4000, 20, 7200, 24, 0},
		{"too little heat to reach it", 20, 40, 20, 1e7, 22, 1e-9},
		{"more heat than it can take", 24, 5500, 20, 1e7, 20 + 500.0/20, 1e-9},
		{"no time", 30, 4000, 20, 0, 30, 0},
	} {
		span := room.Over(row.seconds)
		if got := span.Cooled(row.from, row.heat, row.outC, c); math.Abs(got-row.want) > row.tol {
			t.Errorf("%s: %v, want %v", row.name, got, row.want)
		}
	}
}

// slowly cools in tiny steps by a thermostat that looks at each.
func slowly(n thermal.Node, tempC, heatW, outC, seconds float64, c thermal.Cooling) float64 {
	const steps = 20000
	dt := seconds / steps
	for range steps {
		leak := n.CoolWPerK * (tempC - outC)
		free := tempC + (heatW-leak)*dt/n.HeatJPerK
		need := (free - c.SetpointC) * n.HeatJPerK / dt
		tempC = free - min(max(need, 0), c.MaxW)*dt/n.HeatJPerK
	}
	return tempC
}

func TestCooledAgreesWithTinySteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := thermal.Node{HeatJPerK: rapid.Float64Range(1e4, 1e6).Draw(t, "heat capacity"), CoolWPerK: rapid.Float64Range(0, 100).Draw(t, "leak")}
		c := thermal.Cooling{SetpointC: rapid.Float64Range(15, 30).Draw(t, "setpoint"), MaxW: rapid.Float64Range(0, 8000).Draw(t, "cooling")}
		from, heat := rapid.Float64Range(10, 50).Draw(t, "from"), rapid.Float64Range(0, 8000).Draw(t, "heat")
		out, seconds := rapid.Float64Range(-10, 40).Draw(t, "outside"), rapid.Float64Range(0, 3600).Draw(t, "seconds")
		span := n.Over(seconds)
		got, want := span.Cooled(from, heat, out, c), slowly(n, from, heat, out, seconds, c)
		if math.Abs(got-want) > 0.002*(1+math.Abs(want-from)) {
			t.Fatalf("%v C, tiny steps say %v C", got, want)
		}
		half := n.Over(seconds / 2)
		if twice := half.Cooled(half.Cooled(from, heat, out, c), heat, out, c); math.Abs(twice-got) > 1e-9*(1+math.Abs(got)) {
			t.Fatalf("two halves give %v C, the whole %v C", twice, got)
		}
	})
}

// What the cooling takes away holds the temperature: heat in is heat out.
func TestCoolingWatts(t *testing.T) {
	c := thermal.Cooling{SetpointC: 24, MaxW: 5000}
	for _, row := range []struct{ temp, heat, want float64 }{
		{24, 4000, 3920}, {24, 50, 0}, {24, 9000, 5000}, {23.9, 4000, 0}, {24.1, 10, 5000},
	} {
		if got := c.Watts(room, row.temp, row.heat, 20); got != row.want {
			t.Errorf("%v C, %v W: takes %v W, want %v", row.temp, row.heat, got, row.want)
		}
	}
}

// Saturation pressures over water of the WMO's tables, in hPa; from memory.
func TestSaturation(t *testing.T) {
	for temp, want := range map[float64]float64{0: 6.11, 10: 12.27, 20: 23.37, 25: 31.67, 30: 42.43, 40: 73.78} {
		if got := thermal.Saturation(temp); math.Abs(got-want) > 0.003*want {
			t.Errorf("%v C: %v hPa, want %v", temp, got, want)
		}
	}
}

func TestHumidityFallsAsAirWarmsUp(t *testing.T) {
	// 50 % at 20 C are 23.37/42.43 of it at 30 C.
	if got := thermal.RelativeHumidity(50, 20, 30); math.Abs(got-27.5) > 0.2 {
		t.Errorf("%v %%, want 27.5", got)
	}
	if got := thermal.RelativeHumidity(50, 20, 0); got != 100 {
		t.Errorf("%v %% below the dew point, want 100", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		temp := rapid.Float64Range(-20, 59).Draw(t, "temp")
		cold, warm := thermal.RelativeHumidity(45, 22, temp), thermal.RelativeHumidity(45, 22, temp+1)
		if !(warm <= cold) || math.IsNaN(cold) || warm < 0 || cold > 100 {
			t.Fatalf("%v %% at %v C, %v %% a kelvin warmer", cold, temp, warm)
		}
	})
}
