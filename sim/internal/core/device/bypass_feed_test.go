package device_test

import (
	"math"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/scenario"
	"ridethrough/sim/internal/core/snap"
)

// apart is a double-conversion unit whose bypass has a feed of its own.
func apart(supply string) string { return of(doubled + "\nbypass = {supply = \"" + supply + "\"}") }

// TestBypassFeed: which supplies leave the bypass alive, seen in RFC 1628
// upsBypassVoltage, upsAlarmBypassBad and upsAlarmInputBad.
func TestBypassFeed(t *testing.T) {
	none := []snap.AlarmKind{}
	bypass := []snap.AlarmKind{snap.AlarmBypassBad}
	input := []snap.AlarmKind{snap.AlarmOnBattery, snap.AlarmInputBad}
	both := []snap.AlarmKind{snap.AlarmOnBattery, snap.AlarmInputBad, snap.AlarmBypassBad}
	for _, row := range []struct {
		supply, entry string
		volts         float64
		alarms        []snap.AlarmKind
	}{
		{"input", `source = "lost"`, 0, both},
		{"input", `input = "open"`, 0, both},
		{"site", `source = "lost"`, 0, both},
		{"site", `input = "open"`, 230, input},
		{"second", `source = "lost"`, 230, input},
		{"second", `input = "open"`, 230, input},
		{"second", `bypass_source = "lost"`, 0, bypass},
		{"second", `bypass_source = {volts = 200}`, 200, bypass},
		{"second", `bypass_source = {volts = 0, line = 2}`, 230, none}, // the unit has one line
		{"second", `bypass_source = {hz = 47.9}`, 230, bypass},
	} {
		r := playtest.Start(t, apart(row.supply)).To(min).Inject(row.entry).To(min + 10*sec)
		want(t, r, row.alarms...)
		if got := r.Site.Bypass.Lines[0].Volts; got != row.volts || r.Site.BypassFeed.Volts != row.volts {
			t.Errorf("%s, %s: %v V at the bypass, want %v", row.supply, row.entry, got, row.volts)
		}
	}
}

// TestBypassFeedLines: the sums of power come from where it flows.
func TestBypassFeedLines(t *testing.T) {
	r := playtest.Start(t, apart("second")).To(min).Inject(`bypass_source = {volts = 225, hz = 49.5}`).To(2 * min)
	r.Inject(`bypass = "on"`)
	if out := r.Site.Output; out.Lines[0].Volts != 225 || out.Frequency != 49.5 || r.Site.Bypass.Frequency != 49.5 || r.Site.Input.Frequency != 50 {
		t.Errorf("out %+v, bypass %+v, in %+v", out, r.Site.Bypass, r.Site.Input)
	}
	sum := func() float64 { return r.Site.Input.Lines[0].Watts + r.Site.Bypass.Lines[0].Watts }
	if math.Abs(sum()-r.Site.Power.MainsW) > 1e-9 || r.Site.Input.Lines[0].Watts < 50 {
		t.Errorf("%v W in all, %v W taken; the idle unit takes %v", sum(), r.Site.Power.MainsW, r.Site.Input.Lines[0].Watts)
	}
	// Without the input the bypass feeds the unit too, and the battery rests.
	r.Inject(`source = "lost"`).To(3 * min)
	if math.Abs(sum()-r.Site.Power.MainsW) > 1e-9 || r.Site.Input.Lines[0].Watts != 0 || r.Site.Power.BatteryW > 1 {
		t.Errorf("%v W in all, %v W taken, %v W of the battery", sum(), r.Site.Power.MainsW, r.Site.Power.BatteryW)
	}
}

// TestBypassFeedSynchronism: the inverter follows the bypass, not the input: a
// second feed out of step costs the gap of an unsynchronised change.
func TestBypassFeedSynchronism(t *testing.T) {
	r := playtest.Start(t, apart("second")).To(min).Inject(`source = {hz = 49}`).To(2 * min)
	if hz := r.Site.Output.Frequency; hz != 50 || !r.Site.UPS.Synchronised {
		t.Errorf("it follows its input: %v Hz, in step %v", hz, r.Site.UPS.Synchronised)
	}
	r.Inject(`bypass_source = {hz = 51}`)
	if r.Site.UPS.Synchronised {
		t.Error("in step at once")
	}
	if r.To(3 * min); r.Site.Output.Frequency != 51 || !r.Site.UPS.Synchronised {
		t.Errorf("%v Hz, in step %v", r.Site.Output.Frequency, r.Site.UPS.Synchronised)
	}
	// Beyond the window of the bypass the inverter runs at its own frequency.
	if r.Inject(`bypass_source = {hz = 53}`).To(4 * min); r.Site.Output.Frequency != 50 || r.Site.UPS.BypassGood {
		t.Errorf("%v Hz, bypass good %v", r.Site.Output.Frequency, r.Site.UPS.BypassGood)
	}
}

// TestBypassFeedAfterTheBattery: an exhausted battery hands over to a bypass that
// is alive, and the inverter takes the load back when the input has returned.
func TestBypassFeedAfterTheBattery(t *testing.T) {
	r := playtest.Start(t, apart("second")).To(min).Inject(`source = "lost"`).Inject("charge_pct = 5").To(30 * min)
	if u := r.Site.UPS; u.Source != snap.SourceBypass || !u.SystemOn || r.Site.Hosts[0].Cuts != 0 || r.Count("bypass: the battery is exhausted") != 1 {
		t.Fatalf("%v\n%s", u.Source, r.Trace())
	}
	if r.Inject(`source = "normal"`).To(31 * min); r.Site.UPS.Source != snap.SourceNormal || r.Site.Hosts[0].Cuts != 0 {
		t.Errorf("%v\n%s", r.Site.UPS.Source, r.Trace())
	}
	// With the bypass gone too, nothing is left.
	r.Inject(`source = "lost"`).Inject("charge_pct = 5").To(61 * min).Inject(`bypass_source = "lost"`).To(62 * min)
	if r.Site.UPS.OutputOn || r.Site.UPS.SystemOn || r.Site.Hosts[0].Cuts != 1 {
		t.Errorf("%v\n%s", r.Site.UPS.Source, r.Trace())
	}
}

// TestBypassFeedHighEfficiency: that mode uses the feed of the bypass.
func TestBypassFeedHighEfficiency(t *testing.T) {
	src := strings.Replace(apart("second"), "[ups]", "[ups]\nhigh_efficiency = true", 1)
	r := playtest.Start(t, src).Inject(`bypass_source = {volts = 222}`).To(min)
	if out := r.Site.Output.Lines[0].Volts; out != 222 || !r.Site.UPS.HighEfficiency || r.Site.Bypass.Lines[0].Watts != 600 {
		t.Errorf("%v V, %+v", out, r.Site.Bypass.Lines[0])
	}
	if r.Inject(`bypass_source = "lost"`); r.Site.UPS.HighEfficiency || r.Site.UPS.Source != snap.SourceNormal || r.Site.LongestGap != 4 {
		t.Errorf("%v, high efficiency %v, a gap of %d ms", r.Site.UPS.Source, r.Site.UPS.HighEfficiency, r.Site.LongestGap)
	}
}

// TestBypassFeedMoves: a drift of the second feed is judged to the tick, whoever
// else stops the run.
func TestBypassFeedMoves(t *testing.T) {
	r := playtest.Start(t, apart("second")).To(min).Inject(`bypass_source = {volts = 184, over = "46s"}`).To(3 * min)
	// It loses a volt a second: 207 V, the limit, 23 s after its beginning.
	if n := r.Count("bypass: bad 207.0 V"); n != 1 || !strings.Contains(r.Trace(), "0:01:23.001 bypass: bad") {
		t.Errorf("%d times\n%s", n, r.Trace())
	}
}

func TestBypassFeedRefused(t *testing.T) {
	for text, want := range map[string]string{
		"[ups]\nbypass = {supply = 'second'}":                                           "is for a bypass of topology VFI",
		"[ups]\ntopology = 'VFI'\nbypass = {supply = 'second', fitted = false}":         "is for a bypass of topology VFI",
		"[ups]\ntopology = 'VFI'\nbypass = {supply = 'third'}":                          "third",
		"[ups]\ntopology = 'VFI'\n[[at]]\ntime = '1m'\nbypass_source = 'lost'":          "the bypass has no second feed",
		"[ups]\ntopology = 'VFI'\n[[at]]\ntime = '1m'\nbypass_source = {sag_pct = 120}": "sag_pct",
	} {
		_, err := scenario.Load("x.toml", []byte("title = 'x'\nrun_for = '10m'\n"+text), scenario.Options{})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// TestBypassFeedPowersTheCard: the standby supply of a unit that was switched off
// hangs on whatever is alive.
func TestBypassFeedPowersTheCard(t *testing.T) {
	for supply, want := range map[string]bool{"site": false, "second": true} {
		src := strings.Replace(apart(supply), "[ups]", "[ups]\nshutdown_type = \"system\"", 1)
		r := playtest.Start(t, src).To(min).Inject(`source = "lost"`).Write(snap.VarShutdownAfter, 0).To(2 * min)
		if r.Site.UPS.SystemOn || (r.Site.Card.State == snap.CardRunning) != want {
			t.Errorf("%s: system on %v, the card is %v", supply, r.Site.UPS.SystemOn, r.Site.Card.State)
		}
		if r.Inject(`output = "off"`).Inject(`source = "normal"`).To(5 * min); r.Site.Card.State != snap.CardRunning {
			t.Errorf("%s: mains back: the card is %v", supply, r.Site.Card.State)
		}
	}
}

// TestBypassFeedOutOfItsWindow: on the maintenance bypass at a voltage that the unit
// itself cannot use, its battery carries what the unit needs.
func TestBypassFeedOutOfItsWindow(t *testing.T) {
	for volts, drains := range map[string]bool{"220": false, "200": true} {
		r := playtest.Start(t, apart("second")).To(min).Inject(`bypass = "maintenance"`).Inject(`source = "lost"`).Inject("bypass_source = {volts = " + volts + "}").To(10 * min)
		if got := r.Site.Power.BatteryW > 10; got != drains || r.Site.Hosts[0].Cuts != 0 {
			t.Errorf("at %s V the battery gives %.1f W", volts, r.Site.Power.BatteryW)
		}
	}
}
