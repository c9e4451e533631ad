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
	}
	d.Test, d.Control, d.Config = u.test, u.control, u.config
}

// Readings writes into d what the unit measures and estimates, for the physics
// p, which may be a step that is only tried, and the flows that led to it.
func (u *UPS) Readings(d *snap.Device, p *Physics, f Flows) {
	d.Battery = snap.Battery{
		Status: u.status(p), RuntimeS: p.RuntimeS, ChargePct: u.shownCharge(p),
		Volts: u.stringVolts(p), Amps: p.CellAmps * float64(u.bat.Strings), TempC: p.TempC,
	}
	u.viewLines(d, f)
}

func (u *UPS) viewLines(d *snap.Device, f Flows) {
	in := snap.Line{Volts: u.feed.Volts, Watts: f.Mains}
	if in.Volts > 0 {
		in.Amps = f.Mains / in.Volts
	}
	d.Input = snap.Lines{Count: 1, Frequency: u.feed.Hz, Lines: [3]snap.Line{in}}
	d.Output = snap.Lines{Count: 1}
	if u.OutputOn() {
		volts, hz := u.outputVolts()
		d.Output.Frequency = hz
		d.Output.Lines[0] = snap.Line{
			Volts: volts, Amps: u.load.VA / volts, Watts: u.load.Watts, LoadPct: u.loadPct(),
		}
	}
	d.Bypass = snap.Lines{}
}

func (u *UPS) outputVolts() (volts, hz float64) {
	switch u.source {
	case snap.SourceBattery:
		return u.config.OutputVolts, u.config.OutputHz
	case snap.SourceBooster:
		return u.feed.Volts * u.cfg.Ratio, u.feed.Hz
	case snap.SourceReducer:
		return u.feed.Volts / u.cfg.Ratio, u.feed.Hz
	}
	return u.feed.Volts, u.feed.Hz
}

// Truth is what only the bench sees of the unit.
func (u *UPS) Truth(s *snap.Site, p *Physics, f Flows) {
	s.Feed = u.feed
	s.ChargePct = 100 * u.cell.Charge(p.Cell)
	s.Transfers = u.transfers
	s.Power = snap.Power{
		MainsW: f.Mains, LossW: f.Loss, BatteryW: f.Battery,
		MainsWh: p.MainsWh, OutputWh: p.OutputWh, LossWh: p.LossWh,
	}
	if u.OutputOn() {
		s.Power.OutputW, s.Power.OutputVA, s.Power.LoadPct = u.load.Watts, u.load.VA, u.loadPct()
	}
}

// Grid is how far the unit's state may be stepped at once: finely on battery,
// coarsely while charging, very coarsely at rest.
func (u *UPS) Grid() vtime.Tick {
	switch {
	case u.discharging():
		return vtime.Second
	case u.Physics.CellAmps != 0 && u.shownCharge(&u.Physics) < 99.99:
		return 10 * vtime.Second
	}
	return vtime.Minute
}
