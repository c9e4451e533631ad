package model

import "ridethrough/sim/internal/core/snap"

// probeRows is 0 if the card was not told of its probes.
func probeRows(d *snap.Device) int {
	if d.Outlets.Roster == nil {
		return 0
	}
	return min(probeCount(d), len(d.Outlets.Roster.Probes))
}

// probeGroup is rtProbeTable.
var probeGroup = []Variable{
	{
		Name: "rtProbeIndex", Label: "Probe", OID: probeTable.column(1), Syntax: smallIndex(snap.MaxProbes), Access: NotAccessible, Table: probeTable,
		Description: "Number of an environmental probe, from 1.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "rtProbeName", Label: "Probe name", OID: probeTable.column(2), Syntax: display(255), Table: probeTable,
		Description: "Name of the probe: its place.",
		read:        func(v *View, row int) Value { return text(v.Dev.Probes.List[row].Name) },
	},
	{
		Name: "rtProbeState", Label: "Probe state", OID: probeTable.column(3), Table: probeTable,
		Syntax:      enum("normal", "normal", "warning", "warning", "critical", "critical", "lost", "lost", "unpaired", "not paired"),
		Description: "How the readings stand to the limits, the worst of them; lost: there is none, the cable is out; unpaired: there is none, no probe is paired with this name.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Probes.List[row].State) + 1 },
	},
	{
		Name: "rtProbeSince", Label: "Probe since", OID: probeTable.column(4), Syntax: timeStamp, Table: probeTable,
		Description: "Up time when the probe came into its state; 0 if that was before the agent started.",
		read: func(v *View, row int) Value {
			return number(ticks(v.Dev.Card.Runs(v.Dev.Probes.List[row].Since)))
		},
	},
	{
		Name: "rtProbeTemperature", Label: "Probe temperature", OID: probeTable.column(5), Syntax: integer32, Table: probeTable,
		Units: "0.1 degrees Celsius", Symbol: "C", Decimals: 1,
		Description: "Temperature at the probe; while it is lost the last one.",
		measure:     func(v *View, row int) float64 { return v.Dev.Probes.List[row].TempC },
	},
	{
		Name: "rtProbeHumidity", Label: "Probe humidity", OID: probeTable.column(6), Syntax: integerNamed(-1, 100), Table: probeTable,
		Units: "percent", Symbol: "%",
		Description: "Relative humidity at the probe, -1 if it does not measure that; while it is lost the last one.",
		measure: func(v *View, row int) float64 {
			if p := &v.Dev.Probes.List[row]; p.HasHumidity {
				return p.HumidityPct
			}
			return -1
		},
	},
	probeLimit(7, "rtProbeLowCritical", "Probe critical below", "Critical below this", func(l *snap.Limits) snap.Limit { return l.LowCritical }),
	probeLimit(8, "rtProbeLowWarning", "Probe warning below", "Warning below this", func(l *snap.Limits) snap.Limit { return l.LowWarn }),
	probeLimit(9, "rtProbeHighWarning", "Probe warning above", "Warning above this", func(l *snap.Limits) snap.Limit { return l.HighWarn }),
	probeLimit(10, "rtProbeHighCritical", "Probe critical above", "Critical above this", func(l *snap.Limits) snap.Limit { return l.HighCritical }),
	{
		Name: "rtProbeHysteresis", Label: "Probe hysteresis", OID: probeTable.column(11), Syntax: integer32From(0), Table: probeTable,
		Units: "0.1 kelvins", Symbol: "K", Decimals: 1,
		Description: "How far back inside a limit the temperature must come to leave it.",
		measure:     func(v *View, row int) float64 { return v.probeSetting(row).Temp.Hysteresis },
	},
	{
		Name: "rtProbeDelay", Label: "Probe delay", OID: probeTable.column(12), Syntax: integer32From(0), Table: probeTable,
		Units: "milliseconds", Symbol: "ms",
		Description: "How long the temperature must stay outside a limit before it counts.",
		read:        func(v *View, row int) Value { return milliseconds(v.probeSetting(row).Delay) },
	},
	{
		Name: "rtProbePart", Label: "Probe part", OID: probeTable.column(13), Syntax: integer32From(1), Table: probeTable,
		Description: "Number of the probe in entPhysicalTable of ENTITY-MIB; its sensors have the numbers behind.",
		count:       func(_ *View, row int) int64 { return int64(row+1) * ofProbe },
	},
	{
		Name: "rtProbeId", Label: "Probe id", OID: probeTable.column(14), Syntax: display(8), Table: probeTable,
		Description: "Id of the probe that is paired with the name; empty if none is.",
		read:        func(v *View, row int) Value { return text(v.probeSetting(row).ID) },
	},
	{
		Name: "rtProbePosition", Label: "Probe position", OID: probeTable.column(15), Syntax: display(255), Table: probeTable,
		Description: "Where it hangs.",
		read:        func(v *View, row int) Value { return text(v.probeSetting(row).Position) },
	},
	{
		Name: "rtProbeSocket", Label: "Probe socket", OID: probeTable.column(16), Syntax: integerNamed(0, snap.MaxProbes), Table: probeTable,
		Description: "Socket of the card that it is in; 0 if it is in none.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Probes.List[row].Socket) },
	},
	humidityLimit(17, "rtProbeHumidityLowCritical", "Humidity critical below", "Critical below this", func(l *snap.Limits) snap.Limit { return l.LowCritical }),
	humidityLimit(18, "rtProbeHumidityLowWarning", "Humidity warning below", "Warning below this", func(l *snap.Limits) snap.Limit { return l.LowWarn }),
	humidityLimit(19, "rtProbeHumidityHighWarning", "Humidity warning above", "Warning above this", func(l *snap.Limits) snap.Limit { return l.HighWarn }),
	humidityLimit(20, "rtProbeHumidityHighCritical", "Humidity critical above", "Critical above this", func(l *snap.Limits) snap.Limit { return l.HighCritical }),
	{
		Name: "rtProbeHumidityHysteresis", Label: "Humidity hysteresis", OID: probeTable.column(21), Syntax: integer32From(0), Table: probeTable,
		Units: "percent", Symbol: "%",
		Description: "How far back inside a limit the humidity must come to leave it.",
		measure:     func(v *View, row int) float64 { return v.probeSetting(row).Humid.Hysteresis },
	},
	limited(22, "rtProbeRiseLimit", "Probe rise limit", "0.1 kelvins", "K", 1, "Warning when the temperature is so much above the least of rtProbeRiseTime",
		func(p *snap.ProbeSetting) snap.Limit { return p.Rise }),
	{
		Name: "rtProbeRiseTime", Label: "Probe rise within", OID: probeTable.column(23), Syntax: integer32From(0), Table: probeTable,
		Units: "milliseconds", Symbol: "ms",
		Description: "The time over which a rise counts.",
		read:        func(v *View, row int) Value { return milliseconds(v.probeSetting(row).RiseIn) },
	},
	{
		Name: "rtProbeRise", Label: "Probe rise", OID: probeTable.column(24), Syntax: integer32, Table: probeTable,
		Units: "0.1 kelvins", Symbol: "K", Decimals: 1,
		Description: "How much the temperature is above the least of that time.",
		measure:     func(v *View, row int) float64 { return v.Dev.Probes.List[row].RiseK },
	},
	{
		Name: "rtProbeCause", Label: "Probe cause", OID: probeTable.column(25), Table: probeTable,
		Syntax:      enum("none", "none", "cable", "cable", "temperature", "temperature", "humidity", "humidity", "rise", "rise"),
		Description: "What makes the probe's state: the first of these that is as bad as that. In a notification: what it is about.",
		count:       func(v *View, row int) int64 { return probeCause(&v.Dev.Probes.List[row]) },
	},
}

// probeSetting is what the card was told of the probe in that row.
func (v *View) probeSetting(row int) *snap.ProbeSetting {
	if list := v.Dev.Card.Settings.Surroundings.Probes; row < len(list) {
		return &list[row]
	}
	return &v.Dev.Outlets.Roster.Probes[row].ProbeSetting
}

// ProbeCause is what rtProbeCause says of a cause.
func ProbeCause(c snap.ProbeCause) int64 { return int64(c) + 2 }

func probeCause(p *snap.Probe) int64 {
	if p.State == snap.ProbeNormal {
		return 1
	}
	return ProbeCause(p.Cause())
}

// probeLimit is one of the limits of a probe's temperature.
func probeLimit(column uint32, name, label, description string, at func(*snap.Limits) snap.Limit) Variable {
	return limited(column, name, label, "0.1 degrees Celsius", "C", 1, description, func(p *snap.ProbeSetting) snap.Limit { return at(&p.Temp) })
}

func humidityLimit(column uint32, name, label, description string, at func(*snap.Limits) snap.Limit) Variable {
	return limited(column, name, label, "percent", "%", 0, description, func(p *snap.ProbeSetting) snap.Limit { return at(&p.Humid) })
}

// limited is a limit of a probe, which may be none.
func limited(column uint32, name, label, units, symbol string, decimals int, description string, at func(*snap.ProbeSetting) snap.Limit) Variable {
	return Variable{
		Name: name, Label: label, OID: probeTable.column(column), Syntax: integer32, Table: probeTable,
		Units: units, Symbol: symbol, Decimals: decimals, Description: description + "; 2147483647 if there is no such limit.",
		measure: func(v *View, row int) float64 {
			if l := at(v.probeSetting(row)); l.Set() {
				return float64(l)
			}
			return noLimit
		},
		say: func(n int64) string {
			if n == noLimit {
				return "none"
			}
			return decimal(n, decimals) + " " + symbol
		},
	}
}
