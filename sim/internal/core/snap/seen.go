package snap

import "ridethrough/sim/internal/core/vtime"

// Seen is the device as the card's surfaces show it. It differs from the device
// as it is while the card has no contact with the unit.
func (s *Site) Seen() *Device {
	if !s.Card.UnitLost {
		return &s.Device
	}
	d := s.Device
	if d.Card.UnitBlank {
		d.blank()
		return &d
	}
	d.UPS, d.Battery, d.Test, d.Control, d.Config = s.Held.UPS, s.Held.Battery, s.Held.Test, s.Held.Control, s.Held.Config
	d.Input, d.Output, d.Bypass = s.Held.Input, s.Held.Output, s.Held.Bypass
	return &d
}

// blank takes out all that only the unit can tell.
func (d *Device) blank() {
	d.UPS = UPS{Source: SourceOther, OnBatterySince: vtime.Never}
	d.Battery = Battery{Status: BatteryUnknown}
	d.Input, d.Output, d.Bypass = Lines{}, Lines{}, Lines{}
	d.Test = Test{ID: TestNone, Result: ResultNone, SpinLock: d.Test.SpinLock}
	d.Control = Control{ShutdownType: 1, ShutdownAt: vtime.Never, StartupAt: vtime.Never, RebootUntil: vtime.Never}
	d.Config = Config{Audible: AudibleDisabled}
}
