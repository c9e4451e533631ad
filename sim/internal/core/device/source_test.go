package device_test

import (
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const (
	ms  = vtime.Millisecond
	sec = vtime.Second
	min = vtime.Minute
)

// unit is one 3 kVA unit with a host of 600 W. Limits at 230 V: battery below
// 177 V and above 281 V, boost below 207 V, reduce above 253 V, hysteresis 5 V,
// 47 to 53 Hz.
const unit = `
title = "one unit"
run_for = "24h"
[card]
address = "192.0.2.10/24"
[[host]]
name = "db"
draw_w = 600
`

// TestSource goes through the window of the input (RFC 1628 upsOutputSource,
// upsInputLineBads, upsSecondsOnBattery; IEC 62040-3 class VI). Every row is
// one input after the other, each kept for a minute.
func TestSource(t *testing.T) {
	type step struct {
		input  string
		want   snap.OutputSource
		bads   uint32
		onBatt bool
	}
	normal, boost, reduce, batt := snap.SourceNormal, snap.SourceBooster, snap.SourceReducer, snap.SourceBattery
	for name, steps := range map[string][]step{
		"within the window": {{"volts = 210", normal, 0, false}, {"volts = 250", normal, 0, false}},
		"boost, with hysteresis": {
			{"volts = 206.9", boost, 0, false}, {"volts = 211", boost, 0, false}, {"volts = 212", normal, 0, false},
		},
		"a brown-out is no outage": {{"volts = 184", boost, 0, false}, {"volts = 230", normal, 0, false}},
		"reduce, with hysteresis": {
			{"volts = 253.1", reduce, 0, false}, {"volts = 249", reduce, 0, false}, {"volts = 248", normal, 0, false},
		},
		"from boost to reduce": {{"volts = 200", boost, 0, false}, {"volts = 260", reduce, 0, false}},
		"below, with hysteresis": {
			{"volts = 176.9", batt, 1, true}, {"volts = 181", batt, 1, true}, {"volts = 182", boost, 1, false},
		},
		"above, with hysteresis": {
			{"volts = 281.1", batt, 1, true}, {"volts = 277", batt, 1, true}, {"volts = 276", reduce, 1, false},
		},
		"frequency": {{"hz = 46.9", batt, 1, true}, {"hz = 50", normal, 1, false}, {"hz = 53.1", batt, 2, true}},
		"frequency, with hysteresis": {
			{"hz = 46.9", batt, 1, true}, {"hz = 47.05", batt, 1, true}, {"hz = 47.1", normal, 1, false},
			{"hz = 53.1", batt, 2, true}, {"hz = 52.95", batt, 2, true}, {"hz = 52.9", normal, 2, false},
		},
		"worse while bad is one":  {{"volts = 150", batt, 1, true}, {"volts = 0", batt, 1, true}, {"volts = 230", normal, 1, false}},
		"lost":                    {{"volts = 0", batt, 1, true}, {"volts = 230", normal, 1, false}},
		"back into boost at once": {{"volts = 0", batt, 1, true}, {"volts = 190", boost, 1, false}},
	} {
		t.Run(name, func(t *testing.T) {
			r := playtest.Start(t, unit)
			for i, s := range steps {
				r.Inject("source = {" + s.input + "}").To(r.Engine.Now() + min)
				u := r.Site.UPS
				if u.Source != s.want || u.LineBads != s.bads || (u.OnBatterySince != vtime.Never) != s.onBatt {
					t.Errorf("step %d, %s: %v, %d line bads, on battery since %v; want %v, %d, %v",
						i, s.input, u.Source, u.LineBads, u.OnBatterySince, s.want, s.bads, s.onBatt)
				}
			}
		})
	}
}

// TestOutputVolts: what the transformer and the battery make of the input.
func TestOutputVolts(t *testing.T) {
	for input, want := range map[string]float64{
		"volts = 230": 230, "volts = 200": 200 * 1.15, "volts = 260": 260 / 1.15, "volts = 0": 230,
	} {
		r := playtest.Start(t, unit).Inject("source = {" + input + "}").To(sec)
		if got := r.Site.Output.Lines[0].Volts; got < want-1e-9 || got > want+1e-9 {
			t.Errorf("%s: %v V, want %v", input, got, want)
		}
	}
}

// TestQualify: the input must be good for 5 s without a break before the unit
// takes it back (common practice: 3 to 20 s).
func TestQualify(t *testing.T) {
	r := playtest.Start(t, unit).Inject(`source = "lost"`).To(min).Inject(`source = "normal"`)
	r.To(min + 5*sec - ms)
	if got := r.Site.UPS.Source; got != snap.SourceBattery {
		t.Fatalf("%v before its time", got)
	}
	r.Inject(`source = {volts = 0, lasts = "1ms"}`).To(min + 10*sec - ms)
	if got := r.Site.UPS.Source; got != snap.SourceBattery {
		t.Fatalf("%v: the dip did not start the wait anew", got)
	}
	r.To(min + 10*sec)
	if u := r.Site.UPS; u.Source != snap.SourceNormal || u.LineBads != 2 || r.Site.Transfers != 1 {
		t.Errorf("%v, %d line bads, %d transfers", u.Source, u.LineBads, r.Site.Transfers)
	}
}

// TestDips: twelve dips in four minutes count twelve times (incident: dip
// train); each is over before the input counts as good again, so the battery
// carries on through those that follow within the wait.
func TestDips(t *testing.T) {
	r := playtest.Start(t, unit)
	for i := range vtime.Tick(12) {
		r.To((i + 1) * 20 * sec).Inject(`source = {volts = 0, lasts = "300ms"}`)
	}
	r.To(5 * min)
	if u := r.Site.UPS; u.LineBads != 12 || r.Site.Transfers != 12 || u.Source != snap.SourceNormal {
		t.Errorf("%d line bads, %d transfers, %v", u.LineBads, r.Site.Transfers, u.Source)
	}
}

// TestGap: the transfer leaves the output dead for a few ms; whoever cannot hold
// up that long loses its run. A sag that leaves 70 % or more is no gap for IT
// equipment (ITI curve, 2000: 70 % for 0.5 s).
func TestGap(t *testing.T) {
	for name, row := range map[string]struct {
		input, transfer, holdUp string
		cuts                    int
	}{
		"held up":              {"volts = 0", "10ms", "10ms", 0},
		"1 ms too long":        {"volts = 0", "10ms", "9ms", 1},
		"no gap":               {"volts = 0", "0ms", "0ms", 0},
		"sag to 70 %":          {"volts = 161", "10ms", "0ms", 0},
		"sag below 70 %":       {"volts = 160.9", "10ms", "0ms", 1},
		"swell":                {"volts = 300", "10ms", "0ms", 0},
		"frequency out":        {"hz = 40", "10ms", "0ms", 0},
		"within the window":    {"volts = 200", "10ms", "0ms", 0},
		"sag kept from hosts":  {"sag_pct = 75", "10ms", "0ms", 0},
		"a sag below the rule": {"sag_pct = 40", "10ms", "5ms", 1},
	} {
		t.Run(name, func(t *testing.T) {
			src := strings.Replace(unit, "[card]", "[ups]\ntransfer = \""+row.transfer+"\"\n[card]", 1) +
				"boot_takes = \"2m\"\nhold_up = \"" + row.holdUp + "\"\n"
			r := playtest.Start(t, src).Inject("source = {" + row.input + "}")
			h := r.Site.Hosts[0]
			wantState, starts := snap.HostRunning, 0
			if row.cuts > 0 {
				wantState, starts = snap.HostBooting, 1
			}
			if h.Cuts != row.cuts || h.State != wantState {
				t.Fatalf("cut %d times, %v; want %d, %v", h.Cuts, h.State, row.cuts, wantState)
			}
			r.To(2 * min)
			if h := r.Site.Hosts[0]; h.State != snap.HostRunning || h.Starts != starts {
				t.Errorf("after its start: %v, %d starts, want %d", h.State, h.Starts, starts)
			}
		})
	}
}

// TestReadingsFollowAtOnce: a poll at the very tick of a change does not see
// the currents of before.
func TestReadingsFollowAtOnce(t *testing.T) {
	r := playtest.Start(t, unit).To(min).Inject(`source = "lost"`)
	if in, b := r.Site.Input.Lines[0], r.Site.Battery; in.Watts != 0 || in.Volts != 0 || b.Amps < 5 {
		t.Errorf("mains lost: %v W in, %v A", in.Watts, b.Amps)
	}
	r.To(2 * min).Inject(`source = "normal"`).To(2*min + 5*sec)
	if in, b := r.Site.Input.Lines[0], r.Site.Battery; in.Watts < 600 || b.Amps >= 0 {
		t.Errorf("mains back: %v W in, %v A", in.Watts, b.Amps)
	}
	if p := r.Site.Power; math.Abs(p.MainsW+p.BatteryW-p.OutputW-p.LossW) > 1e-9 || p.BatteryW >= 0 {
		t.Errorf("the powers do not add up: %+v", p)
	}
}
