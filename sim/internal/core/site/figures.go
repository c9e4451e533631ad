package site

import "ridethrough/sim/internal/phys/provenance"

// Figures are those of the site that a scenario does not change.
func Figures() []provenance.Figure {
	return []provenance.Figure{
		{Group: "hosts", Name: "a host past the unit works from, share of nominal", Value: 100 * liveShare, Unit: "%", Kind: provenance.Published, Source: "ITI curve (2000): 70 % for 0.5 s; common supplies bear it for ever"},
		{Group: "hosts", Name: "and starts again from", Value: 100 * backLive, Unit: "%", Kind: provenance.Published, Source: "ITI curve (2000): 80 % for 10 s"},
		{Group: "changeover", Name: "hysteresis of the voltage", Value: 100 * backShare, Unit: "%", Kind: provenance.Practice, Source: "of nominal"},
	}
}
