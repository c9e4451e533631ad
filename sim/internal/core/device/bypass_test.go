package device_test

import (
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// TestBypassByHand: RFC 1628 upsOutputSource bypass, upsAlarmOnBypass; the load
// goes there and back without a gap, and nothing but the operator takes it back.
func TestBypassByHand(t *testing.T) {
	r := playtest.Start(t, of(doubled)).To(min).Inject(`bypass = "on"`)
	want(t, r, snap.AlarmOnBypass)
	b := r.Site.Bypass
	if r.Site.UPS.Source != snap.SourceBypass || b.Count != 1 || b.Lines[0].Volts != 230 || b.Lines[0].Watts < 600 || b.Lines[0].Amps < 2.6 {
		t.Errorf("%v, %+v", r.Site.UPS.Source, b)
	}
	if in := r.Site.Input.Lines[0].Watts; in < 50 || in > 70 {
		t.Errorf("the idle unit takes %v W", in)
	}
	r.To(vtimeHour)
	want(t, r, snap.AlarmOnBypass)
	r.Inject(`bypass = "off"`)
	want(t, r)
	if r.Site.UPS.Source != snap.SourceNormal || r.Site.LongestGap != 0 || r.Site.Hosts[0].Cuts != 0 {
		t.Errorf("%v after a gap of %d ms", r.Site.UPS.Source, r.Site.LongestGap)
	}
	if b := r.Site.Bypass; b.Lines[0].Watts != 0 || b.Lines[0].Volts != 230 {
		t.Errorf("the bypass at rest: %+v", b)
	}
}

const vtimeHour = 60 * min

// TestBypassOutOfStep: a change while inverter and bypass are not synchronised
// breaks before it makes: 10 to 20 ms (common practice), here 15.
func TestBypassOutOfStep(t *testing.T) {
	for holds, cuts := range map[string]int{"14ms": 1, "15ms": 0} {
		src := of(doubled+"\nslew_hz_per_s = 0.001") + "hold_up = \"" + holds + "\"\n"
		r := playtest.Start(t, src).Inject("source = {hz = 49}").To(min)
		if r.Site.UPS.Synchronised {
			t.Fatal("in step")
		}
		if r.Inject(`bypass = "on"`); r.Site.Hosts[0].Cuts != cuts || r.Site.LongestGap != 15 {
			t.Errorf("hold-up %s: %d cuts, a gap of %d ms", holds, r.Site.Hosts[0].Cuts, r.Site.LongestGap)
		}
	}
}

// TestBypassRefused: the unit says why it does not do it, and does nothing.
func TestBypassRefused(t *testing.T) {
	for name, row := range map[string]struct {
		ups    string
		before []string
		order  string
		why    string
	}{
		"none fitted":       {``, nil, "on", "this unit has no bypass"},
		"out of its window": {doubled, []string{"source = {volts = 200}"}, "on", "the bypass is out of its window"},
		"output off":        {doubled, []string{`output = "off"`}, "on", "the output is off"},
		"not on it":         {doubled, nil, "off", "the output is not on the bypass"},
		"dead":              {doubled, []string{`source = "lost"`}, "maintenance", "the bypass is dead"},
		"no way back":       {doubled, []string{`bypass = "on"`, `inverter = "failed"`}, "off", "the inverter does not work"},
		"already":           {doubled, []string{`bypass = "maintenance"`}, "maintenance", "the maintenance bypass is closed already"},
	} {
		r := playtest.Start(t, of(row.ups)).To(min)
		for _, b := range row.before {
			r.Inject(b)
		}
		was := r.Site.UPS.Source
		if r.Inject(`bypass = "` + row.order + `"`); r.Count("bypass "+row.order+" refused: "+row.why) != 1 || r.Site.UPS.Source != was {
			t.Errorf("%s: %v\n%s", name, r.Site.UPS.Source, r.Trace())
		}
	}
}

// TestBypassLost: a bypass that leaves its window gives the load back to the
// inverter; a dead one leaves the gap of the change.
func TestBypassLost(t *testing.T) {
	for input, row := range map[string]struct {
		source snap.OutputSource
		gap    int
	}{"volts = 200": {snap.SourceNormal, 0}, "volts = 0": {snap.SourceBattery, 4}} {
		r := playtest.Start(t, of(doubled)).Inject(`bypass = "on"`).To(min).Inject("source = {" + input + "}")
		if r.Site.UPS.Source != row.source || int(r.Site.LongestGap) != row.gap || !r.Site.Alarms.Has(snap.AlarmBypassBad) {
			t.Errorf("%s: %v after a gap of %d ms", input, r.Site.UPS.Source, r.Site.LongestGap)
		}
		r.Inject(`source = "normal"`).To(2 * min)
		want(t, r)
	}
}

// TestInverterFails: the load goes to the bypass and returns by itself when the
// inverter works again (RFC 1628 upsAlarmGeneralFault while it does not). Without
// a bypass, or without its input, it is lost.
func TestInverterFails(t *testing.T) {
	r := playtest.Start(t, of(doubled)).To(min).Inject(`inverter = "failed"`)
	want(t, r, snap.AlarmOnBypass, snap.AlarmGeneralFault)
	if res := r.Set(test(snap.TestQuickBattery), lock(1)); res.Status != snap.Inconsistent {
		t.Error("a battery test begins without an inverter")
	}
	if r.Inject(`inverter = "working"`); r.Site.UPS.Source != snap.SourceNormal || r.Site.Hosts[0].Cuts != 0 {
		t.Errorf("mended: %v", r.Site.UPS.Source)
	}
	r.Inject(`inverter = "failed"`).To(2 * min).Inject(`source = "lost"`)
	if u := r.Site.UPS; u.OutputOn || r.Site.Hosts[0].Cuts != 1 {
		t.Errorf("bypass lost too: %v", u.Source)
	}
	// It starts on the bypass when the mains return.
	if r.To(3 * min).Inject(`source = "normal"`).To(4 * min); r.Site.UPS.Source != snap.SourceBypass || r.Site.Hosts[0].State != snap.HostBooting {
		t.Errorf("mains back: %v", r.Site.UPS.Source)
	}

	r = playtest.Start(t, of(doubled+"\nbypass = {fitted = false}")).To(min).Inject(`inverter = "failed"`)
	if r.Site.UPS.OutputOn {
		t.Error("no bypass: the output is still on")
	}
	if r.To(2 * min).Inject(`output = "on"`); r.Site.UPS.OutputOn || r.Count("cannot start: the inverter does not work") != 1 {
		t.Errorf("it starts: %s", r.Trace())
	}

	// VI on mains has no need of it until they fail.
	r = playtest.Start(t, unit).To(min).Inject(`inverter = "failed"`)
	want(t, r, snap.AlarmGeneralFault)
	if r.Inject(`source = "lost"`); r.Site.UPS.OutputOn || r.Site.Hosts[0].Cuts != 1 {
		t.Error("VI without an inverter rides through")
	}
	if r.To(2 * min).Inject(`source = "normal"`).To(3 * min); r.Site.UPS.Source != snap.SourceNormal {
		t.Errorf("VI: mains back: %v", r.Site.UPS.Source)
	}
}

// TestMaintenance: the load hangs on the supply, whatever that does and whatever
// the unit is told; equipment rides through 20 ms of nothing (ITI curve, 2000).
func TestMaintenance(t *testing.T) {
	r := playtest.Start(t, of(doubled)).To(min).Inject(`bypass = "maintenance"`)
	want(t, r, snap.AlarmOnBypass)
	r.Write(snap.VarShutdownAfter, 0).Inject(`output = "off"`)
	if r.Site.UPS.Source != snap.SourceBypass || r.Count("nothing to switch off") != 2 {
		t.Errorf("it obeyed: %v", r.Site.UPS.Source)
	}
	r.Inject("source = {volts = 180}").To(2 * min)
	want(t, r, snap.AlarmOnBypass, snap.AlarmBypassBad, snap.AlarmOutputBad)
	if v := r.Site.Output.Lines[0].Volts; v != 180 {
		t.Errorf("%v V at the output", v)
	}
	r.Inject(`source = "normal"`).To(3 * min).Inject(`source = {volts = 0, lasts = "12ms"}`).To(4 * min)
	if h := r.Site.Hosts[0]; h.Cuts != 0 || r.Site.LongestGap != 12 {
		t.Errorf("12 ms of nothing: %d cuts, a gap of %d ms", h.Cuts, r.Site.LongestGap)
	}
	r.Inject(`source = {volts = 0, lasts = "21ms"}`).To(4*min + 20*ms)
	if h := r.Site.Hosts[0]; h.Cuts != 1 || r.Site.UPS.OutputOn {
		t.Errorf("21 ms of nothing: %d cuts", h.Cuts)
	}
	if r.To(4*min + 21*ms); r.Site.UPS.Source != snap.SourceBypass || r.Site.Hosts[0].State != snap.HostBooting {
		t.Errorf("alive again: %v, %v", r.Site.UPS.Source, r.Site.Hosts[0].State)
	}
	r.To(5 * min).Inject(`bypass = "off"`)
	if r.Site.UPS.Source != snap.SourceNormal {
		t.Errorf("switched back: %v", r.Site.UPS.Source)
	}
	want(t, r)
}

// TestMaintenanceStartsTheOutput: closing the switch puts voltage on an output
// that was off.
func TestMaintenanceStartsTheOutput(t *testing.T) {
	r := playtest.Start(t, of(doubled)).Inject(`output = "off"`).To(min).Inject(`bypass = "maintenance"`)
	if !r.Site.UPS.OutputOn || !r.Site.Hosts[0].Powered {
		t.Error("the output is dead")
	}
}

// TestMaintenanceEmptiesTheBattery: the mains fail for hours: the unit's logic
// goes with its battery, and the load returns with the mains all the same.
func TestMaintenanceEmptiesTheBattery(t *testing.T) {
	r := playtest.Start(t, of(doubled)).Inject(`bypass = "maintenance"`).To(min).Inject(`source = "lost"`).To(12 * vtimeHour)
	if u := r.Site.UPS; u.SystemOn || u.OutputOn {
		t.Fatalf("after 12 h: %+v", u)
	}
	r.Inject(`source = "normal"`).To(12*vtimeHour + min)
	if u := r.Site.UPS; u.Source != snap.SourceBypass || !u.SystemOn {
		t.Errorf("mains back: %+v", u)
	}
	if r.Inject(`bypass = "off"`); r.Site.UPS.Source != snap.SourceNormal {
		t.Errorf("switched back: %v\n%s", r.Site.UPS.Source, r.Trace())
	}
}
