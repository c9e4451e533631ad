package model

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
)

// sensor is a row of entPhySensorTable: the part that it is.
type sensor struct{ entity }

// humid and closes say what it measures; else it is degrees Celsius, to a tenth.
func (s sensor) humid() bool  { return s.probe >= 0 && s.of() == ofHumidity }
func (s sensor) closes() bool { return s.probe >= 0 && s.of() >= ofContact }

func sensorRows(d *snap.Device) int {
	return 1 + entityRows(d) - len(fixed) - probeCount(d)
}

// sensorAt is a row of entPhySensorTable, counted from 0: that of the battery,
// then those of each probe.
func sensorAt(d *snap.Device, row int) sensor {
	if row == 0 {
		return sensor{fixed[partBatteryC-1]}
	}
	row--
	probe := 0
	for ; row >= probeParts(d, probe)-1; probe++ {
		row -= probeParts(d, probe) - 1
	}
	return sensor{probePart(d, probe, row+1)}
}

func sensorIndex(d *snap.Device, row int) uint32 { return sensorAt(d, row).index }

// Values of RFC 3433 that are used.
const (
	sensorCelsius     = 8
	sensorPercentRH   = 9
	sensorTruth       = 12
	sensorOK          = 1
	sensorUnavailable = 2
	sensorBroken      = 3
	scaleUnits        = 9
	sensorLimit       = 1_000_000_000
)

// status is unavailable while there is nothing to read: the cable of the probe is
// out, or the unit does not answer the card. A contact whose loop is cut is broken.
func (s sensor) status(v *View) int64 {
	lost := v.Dev.Alarms.Has(snap.AlarmCommunicationsLost)
	if s.probe >= 0 {
		lost = !v.Dev.Probes.List[s.probe].Read()
	}
	if s.closes() {
		switch v.Dev.Contacts[s.contact(v.Dev)] {
		case snap.ContactFault:
			return sensorBroken
		case snap.ContactLost:
			return sensorUnavailable
		}
		return sensorOK
	}
	if lost {
		return sensorUnavailable
	}
	return sensorOK
}

// value is the reading in its steps; while there is none, the last one.
func (s sensor) value(v *View) int64 {
	switch {
	case s.probe < 0:
		return tenths(v.Dev.Battery.TempC)
	case s.closes():
		return truth(v.Dev.Contacts[s.contact(v.Dev)] == snap.ContactActive).Int
	case s.humid():
		return int64(math.Round(v.Dev.Probes.List[s.probe].HumidityPct))
	}
	return tenths(v.Dev.Probes.List[s.probe].TempC)
}

// tenths is a temperature in tenths of a degree.
func tenths(c float64) int64 { return int64(math.Round(min(max(c, -1000), 1000) * 10)) }

// every is the time between two measurements, 0 if one is made for each request.
func (s sensor) every(v *View) vtime.Tick {
	if roster := v.Dev.Outlets.Roster; s.probe >= 0 && !s.closes() && roster != nil && s.probe < len(roster.Probes) {
		return roster.Probes[s.probe].Every
	}
	return 0
}

// measuredAt is sysUpTime at the last measurement. A probe measures at the
// multiples of its interval.
func (s sensor) measuredAt(v *View) int64 {
	at := v.Now
	if s.probe >= 0 {
		if p := &v.Dev.Probes.List[s.probe]; !p.Read() {
			at = p.Since
		}
		if every := s.every(v); every > 0 {
			at -= at % every
		}
	}
	return ticks(v.Dev.Card.Runs(at))
}

// sensorGroup is entPhySensorTable of ENTITY-SENSOR-MIB (RFC 3433).
var sensorGroup = []Variable{
	sensorNumber(1, "entPhySensorType", "Sensor type", sensorType, "What the sensor measures.",
		func(_ *View, s sensor) int64 {
			switch {
			case s.humid():
				return sensorPercentRH
			case s.closes():
				return sensorTruth
			}
			return sensorCelsius
		}),
	sensorNumber(2, "entPhySensorScale", "Sensor scale", sensorScale, "Power of ten of the unit: that itself.",
		func(*View, sensor) int64 { return scaleUnits }),
	sensorNumber(3, "entPhySensorPrecision", "Sensor decimals", Syntax{Name: "EntitySensorPrecision", Tag: ber.Integer, Min: -8, Max: 9},
		"Decimal places that the value carries: 1 of a temperature, else 0.",
		func(_ *View, s sensor) int64 {
			if s.humid() || s.closes() {
				return 0
			}
			return 1
		}),
	sensorNumber(4, "entPhySensorValue", "Sensor value", Syntax{Name: "EntitySensorValue", Tag: ber.Integer, Min: -sensorLimit, Max: sensorLimit},
		"The reading: tenths of a degree, percent, or of a contact true(1) if what it reports is there and else false(2). While entPhySensorOperStatus is not ok it is the last one, and means nothing.",
		func(v *View, s sensor) int64 { return s.value(v) }),
	sensorNumber(5, "entPhySensorOperStatus", "Sensor state", sensorStatus,
		"Whether the sensor can be read: unavailable while the cable of the probe is out, or the unit does not answer the card; "+
			"nonoperational while the supervised loop of a contact is cut.",
		func(v *View, s sensor) int64 { return s.status(v) }),
	{
		Name: "entPhySensorUnitsDisplay", Label: "Sensor unit", OID: sensorTable.column(6), Syntax: adminString(255), Table: sensorTable,
		Description: "Unit of the value in words, with its decimals.",
		read: func(v *View, row int) Value {
			switch s := sensorAt(v.Dev, row); {
			case s.humid():
				return text("percent relative humidity")
			case s.closes():
				return text("true or false")
			}
			return text("0.1 degrees Celsius")
		},
	},
	sensorNumber(7, "entPhySensorValueTimeStamp", "Sensor read at", timeStamp, "Up time at the last measurement; 0 if that was before the agent started.",
		func(v *View, s sensor) int64 { return s.measuredAt(v) }),
	sensorNumber(8, "entPhySensorValueUpdateRate", "Sensor read every", unsigned32,
		"Time between two measurements; 0 if every request measures.",
		func(v *View, s sensor) int64 { return int64(s.every(v)) }),
}

func sensorNumber(column uint32, name, label string, syntax Syntax, description string, read func(*View, sensor) int64) Variable {
	x := Variable{
		Name: name, Label: label, OID: sensorTable.column(column), Syntax: syntax, Table: sensorTable, Description: description,
		count: func(v *View, row int) int64 { return read(v, sensorAt(v.Dev, row)) },
	}
	if x.Syntax.Name == "Unsigned32" {
		x.Units, x.Symbol = "milliseconds", "ms"
	}
	return x
}
