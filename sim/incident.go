package sim

import (
	"math"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/bundle"
	"ridethrough/sim/internal/face/model"
)

// readout is what one reading tells of the power path. What it does not tell is NaN.
type readout struct {
	at     vtime.Tick
	source snap.OutputSource // 0: not told
	supply [3]float64        // V at the input, by line
	lines  int               // of the input
	hz     float64
	loadW  float64
	// Of the battery: percent, minutes, V, A, degrees, and seconds on it.
	charge, runtime, volts, amps, temp, onBattery float64
	outV                                          float64
}

// Columns of RFC 1628 that come by line.
var (
	inputVolts  = model.Lookup("upsInputVoltage")
	inputHertz  = model.Lookup("upsInputFrequency")
	outputVolts = model.Lookup("upsOutputVoltage")
	outputWatts = model.Lookup("upsOutputPower")
	outputLoad  = model.Lookup("upsOutputPercentLoad")
)

// readouts are those of b. ratingW is for cards that tell the load in percent alone.
func readouts(b *bundle.Bundle, ratingW float64) []readout {
	list := make([]readout, len(b.Readings))
	for i := range b.Readings {
		list[i] = readoutOf(&b.Readings[i], ratingW)
	}
	return list
}

func readoutOf(r *bundle.Reading, ratingW float64) readout {
	out := readout{
		at: tickOf(r.At), hz: column(r, inputHertz, 1), outV: column(r, outputVolts, 1),
		charge: scalar(r, "upsEstimatedChargeRemaining"), runtime: scalar(r, "upsEstimatedMinutesRemaining"),
		volts: scalar(r, "upsBatteryVoltage"), amps: scalar(r, "upsBatteryCurrent"), temp: scalar(r, "upsBatteryTemperature"),
		onBattery: scalar(r, "upsSecondsOnBattery"),
	}
	if n := scalar(r, "upsOutputSource"); n >= 1 {
		out.source = snap.OutputSource(n)
	}
	for out.lines < len(out.supply) {
		v := column(r, inputVolts, out.lines+1)
		if math.IsNaN(v) {
			break
		}
		out.supply[out.lines] = v
		out.lines++
	}
	out.loadW = summed(r, outputWatts)
	if math.IsNaN(out.loadW) {
		out.loadW = column(r, outputLoad, 1) / 100 * ratingW
	}
	return out
}

func tickOf(d time.Duration) vtime.Tick { return vtime.Tick(d / time.Millisecond) }

// scalar is the value of a scalar in its unit, with its decimals.
func scalar(r *bundle.Reading, name string) float64 { return instance(r, model.Lookup(name), 0) }

func column(r *bundle.Reading, x *model.Variable, line int) float64 {
	return instance(r, x, uint32(line))
}

func instance(r *bundle.Reading, x *model.Variable, n uint32) float64 {
	v, ok := r.Find(x.OID.Child(n))
	if !ok || v.Tag != ber.Integer {
		return math.NaN()
	}
	value := float64(v.Int)
	for range x.Decimals {
		value /= 10
	}
	return value
}

// summed is a column over all lines.
func summed(r *bundle.Reading, x *model.Variable) float64 {
	sum := math.NaN()
	for line := 1; line <= 3; line++ {
		v := column(r, x, line)
		switch {
		case math.IsNaN(v):
			return sum
		case math.IsNaN(sum):
			sum = v
		default:
			sum += v
		}
	}
	return sum
}
