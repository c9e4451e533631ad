package device_test

import (
	"strings"
	"testing"

	"ridethrough/sim/internal/core/playtest"
	"ridethrough/sim/internal/core/snap"
)

// TestConfig: RFC 1628 upsConfigGroup. What the unit does not support is refused
// and leaves what was there; low-battery minutes round up instead.
func TestConfig(t *testing.T) {
	for _, row := range []struct {
		v     snap.Var
		value int64
		want  snap.Status
		read  func(*snap.Device) float64
		left  float64 // what is read afterwards
	}{
		{snap.VarInputVoltage, 240, snap.Done, func(d *snap.Device) float64 { return d.Config.InputVolts }, 240},
		{snap.VarInputVoltage, 231, snap.Inconsistent, func(d *snap.Device) float64 { return d.Config.InputVolts }, 230},
		{snap.VarInputVoltage, 120, snap.Inconsistent, func(d *snap.Device) float64 { return d.Config.InputVolts }, 230},
		{snap.VarOutputVoltage, 220, snap.Done, func(d *snap.Device) float64 { return d.Config.OutputVolts }, 220},
		{snap.VarOutputVoltage, 0, snap.Inconsistent, func(d *snap.Device) float64 { return d.Config.OutputVolts }, 230},
		{snap.VarInputFreq, 600, snap.Done, func(d *snap.Device) float64 { return d.Config.InputHz }, 60},
		{snap.VarInputFreq, 500, snap.Done, func(d *snap.Device) float64 { return d.Config.InputHz }, 50},
		{snap.VarOutputFreq, 400, snap.Inconsistent, func(d *snap.Device) float64 { return d.Config.OutputHz }, 50},
		{snap.VarLowBattTime, 7, snap.Done, lowMinutes, 10}, // field fact m
		{snap.VarLowBattTime, 10, snap.Done, lowMinutes, 10},
		{snap.VarLowBattTime, 0, snap.Done, lowMinutes, 1},
		{snap.VarLowBattTime, 61, snap.Done, lowMinutes, 60},
		{snap.VarLowBattTime, 1<<31 - 1, snap.Done, lowMinutes, 60},
		{snap.VarLowBattTime, -1, snap.WrongValue, lowMinutes, 5},
		{snap.VarLowTransfer, 190, snap.Done, func(d *snap.Device) float64 { return d.Config.LowTransferVolts }, 190},
		{snap.VarLowTransfer, 230, snap.Inconsistent, func(d *snap.Device) float64 { return d.Config.LowTransferVolts }, 177},
		{snap.VarHighTransfer, 260, snap.Done, func(d *snap.Device) float64 { return d.Config.HighTransferVolts }, 260},
		{snap.VarHighTransfer, 400, snap.Inconsistent, func(d *snap.Device) float64 { return d.Config.HighTransferVolts }, 281},
		{snap.VarShutdownType, 2, snap.Done, func(d *snap.Device) float64 { return float64(d.Control.ShutdownType) }, 2},
		{snap.VarShutdownType, 3, snap.WrongValue, func(d *snap.Device) float64 { return float64(d.Control.ShutdownType) }, 1},
		{snap.VarAutoRestart, 0, snap.WrongValue, nil, 0},
		{snap.VarAudible, 1, snap.Done, func(d *snap.Device) float64 { return float64(d.Config.Audible) }, 1},
		{snap.VarAudible, 4, snap.WrongValue, func(d *snap.Device) float64 { return float64(d.Config.Audible) }, 2},
		{snap.VarShutdownAfter, -2, snap.WrongValue, nil, 0},
		{snap.VarShutdownAfter, 1 << 31, snap.WrongValue, nil, 0},
		{snap.VarReboot, 301, snap.WrongValue, nil, 0},
		{snap.Var("upsIdentModel"), 1, snap.WrongValue, nil, 0},
	} {
		r := playtest.Start(t, unit)
		if res := r.Set(snap.Assignment{Var: row.v, Int: row.value}); res.Status != row.want {
			t.Errorf("%s %d: status %d (%s), want %d", row.v, row.value, res.Status, res.Reason, row.want)
		}
		if row.read != nil && row.read(&r.Site.Device) != row.left {
			t.Errorf("%s %d: then reads %v, want %v", row.v, row.value, row.read(&r.Site.Device), row.left)
		}
	}
}

func lowMinutes(d *snap.Device) float64 { return float64(d.Config.LowBatteryMinutes) }

// TestNominalOfTheSite: a unit supports at least the supply that it was made for.
func TestNominalOfTheSite(t *testing.T) {
	src := strings.Replace(unit, "[card]", "[source]\nnominal_v = 120\nfrequency_hz = 60\n[card]", 1)
	r := playtest.Start(t, src).Write(snap.VarInputVoltage, 120).Write(snap.VarOutputFreq, 600)
	if res := r.Set(snap.Assignment{Var: snap.VarOutputVoltage, Int: 230}); res.Status != snap.Inconsistent {
		t.Errorf("230 V of 120 V: %+v", res)
	}
}

// TestAllOrNothing: one refusal leaves the whole request undone (RFC 3416 4.2.5).
func TestAllOrNothing(t *testing.T) {
	r := playtest.Start(t, unit)
	res := r.Set(
		snap.Assignment{Var: snap.VarLowBattTime, Int: 10},
		snap.Assignment{Var: snap.VarSysName, Text: "other"},
		snap.Assignment{Var: snap.VarReboot, Int: 301},
	)
	if res.Status != snap.WrongValue || res.Index != 2 {
		t.Errorf("%+v", res)
	}
	if lowMinutes(&r.Site.Device) != 5 || r.Site.Card.Settings.Name == "other" || !r.Site.UPS.OutputOn {
		t.Error("a part was done")
	}
}

// TestTransferPointsWork: RFC 1628 upsConfigLowVoltageTransferPoint and
// upsConfigHighVoltageTransferPoint act on the input as it is.
func TestTransferPointsWork(t *testing.T) {
	r := playtest.Start(t, unit).Inject(`source = {volts = 190}`).To(min)
	if r.Write(snap.VarLowTransfer, 200); r.Site.UPS.Source != snap.SourceBattery || r.Site.UPS.LineBads != 1 {
		t.Errorf("limit above the input: %v", r.Site.UPS.Source)
	}
	if r.To(2*min).Write(snap.VarLowTransfer, 180).To(2*min + 5*sec); r.Site.UPS.Source != snap.SourceBooster {
		t.Errorf("limit below it again: %v", r.Site.UPS.Source)
	}
	r.Inject(`source = {volts = 270}`).To(3 * min)
	if r.Write(snap.VarHighTransfer, 265); r.Site.UPS.Source != snap.SourceBattery {
		t.Errorf("high limit below the input: %v", r.Site.UPS.Source)
	}
}

// TestMuting: RFC 1628 upsConfigAudibleStatus: muted ends with the condition and
// has no effect while there is none, whoever raised it.
func TestMuting(t *testing.T) {
	audible := func(r *playtest.Run, want snap.Audible, when string) {
		t.Helper()
		if got := r.Site.Config.Audible; got != want {
			t.Errorf("%s: %d, want %d", when, got, want)
		}
	}
	r := playtest.Start(t, unit).Write(snap.VarAudible, 3)
	audible(r, snap.AudibleEnabled, "muted while silent")
	for cause, end := range map[string]string{
		`source = "lost"`: `source = "normal"`, `alarm = {raise = "fan_failure"}`: `alarm = {clear = "fan_failure"}`,
	} {
		r.Inject(cause).To(r.Engine.Now()+min).Write(snap.VarAudible, 3).To(r.Engine.Now() + min)
		audible(r, snap.AudibleMuted, cause)
		r.Inject(end).To(r.Engine.Now() + min)
		audible(r, snap.AudibleEnabled, end)
	}
	r.Write(snap.VarAudible, 1).Inject(`source = "lost"`).Write(snap.VarAudible, 3)
	audible(r, snap.AudibleDisabled, "muted while disabled")
}
