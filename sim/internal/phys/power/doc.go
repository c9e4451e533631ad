// Package power is the converter of a UPS as arithmetic: what it loses, how full
// it is, how long it bears an overload, what an autotransformer makes of its
// input.
//
// Losses follow the share x = output/rating of the load:
//
//	loss/rating = a + b x + c x^2,  efficiency = x/(x + a + b x + c x^2)
//
// with a for what runs without load, b for voltage drops, c for resistance. The
// efficiency is best at x = sqrt(a/c). Load in percent of rating is the greater
// of the shares of VA and W (RFC 1628, upsOutputPercentLoad). An overload by x
// is borne for t = K/(x^2 - 1), the law of heat that a resistance makes;
// IEC 62040-3 leaves the figures to the maker, so they are common practice.
//
// Powers are in W and VA, voltages and currents RMS, times in seconds.
package power
