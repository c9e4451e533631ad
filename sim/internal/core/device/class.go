package device

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// class is what each topology of IEC 62040-3 does in its own way while the
// input feeds the output.
type class interface {
	// tap names how a good input feeds the output.
	tap(u *UPS) snap.OutputSource
	// volts is what the output has of an input line.
	volts(u *UPS, in float64) float64
	// hz is the frequency of the output.
	hz(u *UPS, p *Physics) float64
	// gap is the dead time when a dead input is left for the battery.
	gap(u *UPS) vtime.Tick
	// converts says whether the power goes through the inverter.
	converts(u *UPS) bool
}

func classOf(t plan.Topology) class {
	switch t {
	case plan.VFD:
		return standby{}
	case plan.VFI:
		return double{}
	}
	return interactive{}
}

// standby is VFD: the output is the input, as it comes.
type standby struct{}

func (standby) tap(*UPS) snap.OutputSource       { return snap.SourceNormal }
func (standby) volts(_ *UPS, in float64) float64 { return in }
func (standby) hz(u *UPS, _ *Physics) float64    { return u.feed.Hz }
func (standby) gap(u *UPS) vtime.Tick            { return u.cfg.Transfer }
func (standby) converts(*UPS) bool               { return false }

// interactive is VI: an autotransformer in the way may step the voltage up or
// down; the frequency is that of the input.
type interactive struct{ standby }

// tap lets go of a tap only when the input is well inside again.
func (interactive) tap(u *UPS) snap.OutputSource {
	boost, reduce := u.cfg.BoostBelowV, u.cfg.ReduceAboveV
	if u.source == snap.SourceBooster {
		boost += u.cfg.HysteresisV
	}
	if u.source == snap.SourceReducer {
		reduce -= u.cfg.HysteresisV
	}
	switch {
	case u.feed.Volts > reduce:
		return snap.SourceReducer
	case u.feed.Volts < boost:
		return snap.SourceBooster
	}
	return snap.SourceNormal
}

func (interactive) volts(u *UPS, in float64) float64 {
	switch u.source {
	case snap.SourceBooster:
		return float64(in * u.cfg.Ratio)
	case snap.SourceReducer:
		return in / u.cfg.Ratio
	}
	return in
}

// double is VFI: rectifier and inverter make the output anew, so that it has
// its own voltage and frequency and no gap; in high-efficiency mode what is on the
// bypass feeds it through the static switch, and it behaves as VFD.
type double struct{ standby }

func (double) volts(u *UPS, _ float64) float64 { return u.config.OutputVolts }

func (double) hz(_ *UPS, p *Physics) float64 { return p.InverterHz }

func (double) gap(u *UPS) vtime.Tick {
	if u.direct {
		return u.cfg.Transfer
	}
	return 0
}

func (double) converts(u *UPS) bool { return !u.direct }
