package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// View writes into d what the card can read of the unit and what changes only
// at instants.
func (u *UPS) View(d *snap.Device) {
	d.UPS = snap.UPS{
		Manufacturer: u.cfg.Manufacturer, Model: u.cfg.Model, Firmware: u.cfg.Firmware,
		Source: u.source, OutputOn: u.outputOn, SystemOn: u.systemOn,
		OnBatterySince: u.since, LineBads: u.lineBads,
		HighEfficiency: u.direct, BypassGood: u.bypassGood, AwaitsCharge: u.holds,
	}
	d.Test, d.Control, d.Config = u.test, u.control, u.config
}

// Readings writes into d what the unit measures and estimates, for the physics
// p, which may be a step that is only tried, and the flows that led to it.
func (u *UPS) Readings(d *snap.Device, p *Physics, f Flows) {
	d.Battery = snap.Battery{
		Status: u.status(p), RuntimeS: u.shownRuntime(p), ChargePct: u.shownCharge(p), HealthPct: u.shownHealth(),
		Volts: u.stringVolts(p), Amps: p.CellAmps * float64(u.bat.Strings), TempC: p.TempC,
	}
	d.UPS.Synchronised = u.synchronised(p)
	u.viewLines(d, p, f)
}

// Truth is what only the bench sees of the unit.
func (u *UPS) Truth(s *snap.Site, p *Physics, f Flows) {
	s.Feed = u.feed
	if u.cfg.Bypass.Fitted {
		s.BypassFeed = snap.BypassFeed{Volts: u.bypass.Volts[0], Hz: u.bypass.Hz}
	}
	s.ChargePct = 100 * u.store.pack.Charge(&p.Pack)
	s.TrueRuntimeS, s.HealthPct = p.TrueRuntimeS, u.store.healthPct
	s.Transfers = int(u.transfers)
	s.Power = snap.Power{
		MainsW: f.Mains, LossW: f.Loss, BatteryW: f.Battery,
		MainsWh: p.MainsWh, OutputWh: p.OutputWh, LossWh: p.LossWh,
	}
	s.Power.StrainPct = 100 * p.Strain[u.way()]
	s.HoldsOff = u.holdsOff()
	s.UnitC, s.LongestGap = p.UnitC, u.longestGap
	if u.carries() {
		s.Power.OutputW, s.Power.OutputVA, s.Power.LoadPct = f.Output, u.load.VA, u.loadPct
	}
}

// Grid is how far the unit's state may be stepped at once: finely on battery,
// coarsely while charging, very coarsely at rest.
func (u *UPS) Grid() vtime.Tick {
	switch {
	case u.walking():
		return 100 * vtime.Millisecond
	case u.discharging() && !u.carries(): // only the unit's own logic
		return 10 * vtime.Second
	case u.discharging():
		return vtime.Second
	case u.Physics.CellAmps != 0 && u.shownCharge(&u.Physics) < 99.99:
		return 10 * vtime.Second
	}
	return vtime.Minute
}
