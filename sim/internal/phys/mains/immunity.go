package mains

import "math"

// Envelope is the lowest and highest share of the nominal RMS voltage that
// equipment on the ITI curve bears for seconds:
//
//	0 for 20 ms, 0.7 for 0.5 s, 0.8 for 10 s, 0.9 for ever
//	2 for 1 ms, 1.4 for 3 ms, 1.2 for 0.5 s, 1.1 for ever
//
// Above 2 the curve is one of peaks and energy, and below 1 ms there is no
// limit here.
func Envelope(seconds float64) (low, high float64) {
	switch {
	case seconds <= 0.020:
		low = 0
	case seconds <= 0.5:
		low = 0.7
	case seconds <= 10:
		low = 0.8
	default:
		low = 0.9
	}
	switch {
	case seconds < 0.001:
		high = math.Inf(1)
	case seconds == 0.001:
		high = 2
	case seconds <= 0.003:
		high = 1.4
	case seconds <= 0.5:
		high = 1.2
	default:
		high = 1.1
	}
	return low, high
}

// Ride says whether equipment on the ITI curve works on through share of the
// nominal RMS voltage for seconds.
func Ride(share, seconds float64) bool {
	low, high := Envelope(seconds)
	return share >= low && share <= high
}

// DipLevel is one test level: the voltage left, as a share of nominal, for a
// number of cycles that depends on the frequency.
type DipLevel struct {
	Share                  float64
	Cycles50Hz, Cycles60Hz float64
}

// Seconds is how long the level lasts at 50 or 60 Hz; another hz counts as the
// nearer one.
func (d DipLevel) Seconds(hz float64) float64 {
	if hz < 55 {
		return d.Cycles50Hz / 50
	}
	return d.Cycles60Hz / 60
}

// DipLevels are the voltage dips and short interruptions that equipment of a
// class must pass, class 2 (shared supplies) or 3 (industrial ones); none for
// another class. IEC 61000-4-11:2004, tables 1 and 2.
func DipLevels(class int) []DipLevel {
	both := []DipLevel{{0, 0.5, 0.5}, {0, 1, 1}}
	switch class {
	case 2:
		return append(both, DipLevel{0.7, 25, 30}, DipLevel{0, 250, 300})
	case 3:
		return append(both, DipLevel{0.4, 10, 12}, DipLevel{0.7, 25, 30}, DipLevel{0.8, 250, 300}, DipLevel{0, 250, 300})
	}
	return nil
}
