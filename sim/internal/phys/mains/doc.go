// Package mains names what the supply does and says what equipment bears.
//
// [Classify] gives an RMS event its name in the words of IEEE 1159-2009 from the
// voltage retained, as a share of nominal, and its duration:
//
//	            0.5 to 30 cycles   to 3 s      to 1 min    longer
//	below 0.1   momentary          momentary   temporary   sustained interruption
//	0.1 to 0.9  instantaneous      momentary   temporary   sag; longer: undervoltage
//	above 1.1   instantaneous      momentary   temporary   swell; longer: overvoltage
//
// [Ride] is the envelope of the ITI (CBEMA) curve in its revision of 2000, drawn
// for single-phase 120 V equipment and used as a share of nominal elsewhere.
// [DipLevels] are the test levels of IEC 61000-4-11:2004.
//
// [Generator] is what a standby generator delivers while it settles and takes load,
// [Drift] a supply that moves evenly from one value to another.
package mains
