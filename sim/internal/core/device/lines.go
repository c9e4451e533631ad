package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/phys/power"
)

// viewLines writes into d what the unit measures of its lines.
func (u *UPS) viewLines(d *snap.Device, p *Physics, f Flows) {
	d.Output = u.outputLines(p)
	d.Bypass = u.bypassLinesRead()
	d.Input = u.inputLines(f, &d.Output)
}

// inputLines are what the unit takes. Where the input feeds the output past the
// inverter, each line carries its own load with its power factor; a rectifier
// draws evenly and at a power factor of 1. What goes through the bypass is
// counted there only.
func (u *UPS) inputLines(f Flows, out *snap.Lines) snap.Lines {
	in := snap.Lines{Count: u.feed.Lines, Frequency: u.feed.Hz}
	n := float64(in.Count)
	own := f.Mains
	if u.OnBypass() && u.carries() {
		own -= f.Output + u.lossPast()
	}
	direct := u.onMains() && !u.class.converts(u)
	for i := range in.Count {
		l := &in.Lines[i]
		l.Volts, l.Watts = u.feed.V[i], own/n
		va := l.Watts
		if direct && out.Count == in.Count {
			l.Watts = (own-f.Output)/n + u.load.Line[i].Watts
			va = (own-f.Output)/n + u.load.Line[i].VA
		}
		l.Amps = amps(va, l.Volts)
	}
	return in
}

func (u *UPS) outputLines(p *Physics) snap.Lines {
	out := snap.Lines{Count: linesOut(u.cfg)}
	if !u.carries() {
		return out
	}
	out.Frequency = u.outputHz(p)
	for i := range out.Count {
		volts := u.outputVolts(i)
		out.Lines[i] = snap.Line{
			Volts: volts, Amps: amps(u.load.Line[i].VA, volts), Watts: u.load.Line[i].Watts,
			LoadPct: power.ShownLoadPct(u.linePct[i]),
		}
	}
	return out
}

// bypassLinesRead are those of the bypass; none if there is none.
func (u *UPS) bypassLinesRead() (b snap.Lines) {
	if !u.cfg.Bypass.Fitted {
		return b
	}
	b.Count, b.Frequency = u.bypassLines(), u.feed.Hz
	for i := range b.Count {
		l := &b.Lines[i]
		l.Volts = u.feed.V[i]
		if u.OnBypass() && u.carries() {
			l.Watts = u.load.Line[i].Watts + u.lossPast()/float64(b.Count)
			l.Amps = amps(u.load.Line[i].VA, l.Volts)
		}
	}
	return b
}

// amps is the current of va volt-amperes at volts, none at a dead line.
func amps(va, volts float64) float64 {
	if volts <= 0 {
		return 0
	}
	return va / volts
}

func (u *UPS) outputVolts(line int) float64 {
	switch {
	case u.OnBattery():
		return u.config.OutputVolts
	case u.OnBypass():
		return u.feed.V[line]
	case linesOut(u.cfg) != u.feed.Lines: // three lines in, one out
		return u.class.volts(u, u.feed.V[0])
	}
	return u.class.volts(u, u.feed.V[line])
}

func (u *UPS) outputHz(p *Physics) float64 {
	switch {
	case u.OnBattery():
		return p.InverterHz
	case u.OnBypass():
		return u.feed.Hz
	}
	return u.class.hz(u, p)
}
