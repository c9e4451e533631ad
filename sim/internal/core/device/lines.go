package device

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/phys/power"
)

// viewLines writes into d what the unit measures of its lines.
func (u *UPS) viewLines(d *snap.Device, p *Physics, f Flows) {
	d.Output = u.outputLines(p)
	d.Bypass = u.bypassLinesRead(f)
	d.Input = u.inputLines(f, &d.Output)
}

// pastW is what of the flows comes through the bypass.
func (u *UPS) pastW(f Flows) float64 {
	switch {
	case u.fedPast():
		return f.Mains
	case u.OnBypass() && u.carries():
		return f.Output + u.lossPast()
	case u.direct && u.hasOwnFeed():
		return f.Output
	}
	return 0
}

// inputLines are what the unit takes. Where the input feeds the output past the
// inverter, each line carries its own load with its power factor; a rectifier
// draws evenly and at a power factor of 1. What goes through the bypass is
// counted there only.
func (u *UPS) inputLines(f Flows, out *snap.Lines) snap.Lines {
	in := snap.Lines{Count: u.feed.Lines, Frequency: u.feed.Hz}
	n := float64(in.Count)
	own := f.Mains - u.pastW(f)
	direct := u.onMains() && !u.class.converts(u) && !u.hasOwnFeed()
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

// bypassLinesRead are those of the bypass; none if there is none. Each carries the
// load of its line of the output, and its part of what else goes that way.
func (u *UPS) bypassLinesRead(f Flows) (b snap.Lines) {
	if !u.cfg.Bypass.Fitted {
		return b
	}
	b.Count, b.Frequency = u.bypassLines(), u.bypass.Hz
	past := u.pastW(f)
	own := (past - f.Output) / float64(b.Count)
	for i := range b.Count {
		l := &b.Lines[i]
		l.Volts = u.bypass.Volts[i]
		if past > 0 {
			l.Watts = u.load.Line[i].Watts + own
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
	case u.OnBypass(), u.direct:
		return u.bypass.Volts[line]
	case linesOut(u.cfg) != u.feed.Lines: // three lines in, one out
		return u.class.volts(u, u.feed.V[0])
	}
	return u.class.volts(u, u.feed.V[line])
}

func (u *UPS) outputHz(p *Physics) float64 {
	switch {
	case u.OnBattery():
		return p.InverterHz
	case u.OnBypass(), u.direct:
		return u.bypass.Hz
	}
	return u.class.hz(u, p)
}
