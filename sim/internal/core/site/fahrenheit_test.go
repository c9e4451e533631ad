package site_test

import (
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/vtime"
)

// inFahrenheit is a quiet room of 23 degrees with a probe in it.
const inFahrenheit = `
title = "F"
run_for = "1h"
[room]
temp_c = 23
outside_c = 23
volume_m3 = 400
cooling_w = 3000
setpoint_c = 23
[[probe]]
name = "inlet"
noise_k = 0
rise_k = 5
high_critical_c = 40
PROBE
[[host]]
name = "db"
draw_w = 300
`

// TestProbeInFahrenheit: what the card makes of a reading, by what the probe reports and what
// the card was told of that. Right, it is what a probe in Celsius says, to the steps of both.
func TestProbeInFahrenheit(t *testing.T) {
	for keys, want := range map[string]float64{
		``:                           23,
		`measures_in = "fahrenheit"`: 23,                              // 73.4 F
		`set_sends = "fahrenheit"`:   math.Round(10*(23-32)/1.8) / 10, // -5
		"measures_in = \"fahrenheit\"\nset_sends = \"celsius\"": 73.4,
		"measures_in = \"celsius\"\nunit = \"fahrenheit\"":      23, // for people alone
		"measures_in = \"fahrenheit\"\nunit = \"fahrenheit\"":   23,
	} {
		r := playtest.Start(t, strings.Replace(inFahrenheit, "PROBE", keys, 1)).To(5 * vtime.Minute)
		if got := r.Site.Probes.List[0].TempC; math.Abs(got-want) > 0.11 {
			t.Errorf("%q: %.1f C, want %.1f", keys, got, want)
		}
	}
}

// TestUnitOfTheProbeIsPutRight: saved, it counts at once; what was read in the other unit is
// no rise.
func TestUnitOfTheProbeIsPutRight(t *testing.T) {
	r := playtest.Start(t, strings.Replace(inFahrenheit, "PROBE", "set_sends = \"fahrenheit\"", 1)).To(8 * vtime.Minute)
	if got := r.Site.Probes.List[0].TempC; got > 0 {
		t.Fatalf("%.1f C", got)
	}
	r.Inject(`settings = { "surroundings.probe.inlet.sends" = "celsius" }`)
	p := &r.Site.Probes.List[0]
	if math.Abs(p.TempC-23) > 0.11 {
		t.Errorf("%.1f C at once", p.TempC)
	}
	r.To(20 * vtime.Minute)
	if p := &r.Site.Probes.List[0]; p.RiseK > 1 || p.Alerts != 0 {
		t.Errorf("a rise of %.1f K, %d alerts", p.RiseK, p.Alerts)
	}
	r.Inject(`settings = { "surroundings.probe.inlet.sends" = "fahrenheit" }`)
	r.Inject(`settings = { "surroundings.probe.inlet.sends" = "celsius" }`)
	if n := r.Count("probe_alert"); n != 0 {
		t.Errorf("%d alerts\n%s", n, r.Trace())
	}
}
