package model

import "ridethrough/sim/internal/core/snap"

var inputGroup = []Variable{
	{
		Name: "upsInputLineBads", Label: "Input failures", OID: ups(3, 1), Syntax: counter32,
		Levels:      Subset | Basic | Full,
		Description: "How often the input went from in tolerance to out of tolerance.",
		count:       func(v *View, _ int) int64 { return int64(v.Dev.UPS.LineBads) },
	},
	lines("upsInputNumLines", "Input lines", inputOf, ups(3, 2)...),
	lineNumber("upsInputLineIndex", "Input line", inputTable),
	{
		Name: "upsInputFrequency", Label: "Input frequency", OID: inputTable.column(2), Table: inputTable,
		Syntax: nonNegative, Units: "0.1 Hertz", Symbol: "Hz", Decimals: 1, Levels: Basic | Full,
		Description: "Frequency of an input line.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Input.Frequency },
	},
	{
		Name: "upsInputVoltage", Label: "Input voltage", OID: inputTable.column(3), Table: inputTable,
		Syntax: nonNegative, Units: "RMS Volts", Symbol: "V", Levels: Basic | Full,
		Description: "Voltage of an input line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Input.Lines[row].Volts },
	},
	{
		Name: "upsInputCurrent", Label: "Input current", OID: inputTable.column(4), Table: inputTable,
		Syntax: nonNegative, Units: "0.1 RMS Amp", Symbol: "A", Decimals: 1,
		Description: "Current of an input line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Input.Lines[row].Amps },
	},
	{
		Name: "upsInputTruePower", Label: "Input power", OID: inputTable.column(5), Table: inputTable,
		Syntax: nonNegative, Units: "Watts", Symbol: "W",
		Description: "True power taken from an input line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Input.Lines[row].Watts },
	},
}

var outputGroup = []Variable{
	{
		Name: "upsOutputSource", Label: "Output source", OID: ups(4, 1),
		Syntax: enum("other", "other", "none", "none", "normal", "mains", "bypass", "bypass", "battery", "battery",
			"booster", "mains, boosted", "reducer", "mains, reduced"),
		Levels:      Subset | Basic | Full,
		Description: "What feeds the output; none means that it is off.",
		count:       func(v *View, _ int) int64 { return int64(v.Dev.UPS.Source) },
	},
	{
		Name: "upsOutputFrequency", Label: "Output frequency", OID: ups(4, 2), Syntax: nonNegative,
		Units: "0.1 Hertz", Symbol: "Hz", Decimals: 1, Levels: Basic | Full,
		Description: "Frequency of the output.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Output.Frequency },
	},
	lines("upsOutputNumLines", "Output lines", outputOf, ups(4, 3)...),
	lineNumber("upsOutputLineIndex", "Output line", outputTable),
	{
		Name: "upsOutputVoltage", Label: "Output voltage", OID: outputTable.column(2), Table: outputTable,
		Syntax: nonNegative, Units: "RMS Volts", Symbol: "V", Levels: Basic | Full,
		Description: "Voltage of an output line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Output.Lines[row].Volts },
	},
	{
		Name: "upsOutputCurrent", Label: "Output current", OID: outputTable.column(3), Table: outputTable,
		Syntax: nonNegative, Units: "0.1 RMS Amp", Symbol: "A", Decimals: 1, Levels: Full,
		Description: "Current of an output line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Output.Lines[row].Amps },
	},
	{
		Name: "upsOutputPower", Label: "Output power", OID: outputTable.column(4), Table: outputTable,
		Syntax: nonNegative, Units: "Watts", Symbol: "W", Levels: Full,
		Description: "True power given to an output line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Output.Lines[row].Watts },
	},
	{
		Name: "upsOutputPercentLoad", Label: "Load", OID: outputTable.column(5), Table: outputTable,
		Syntax: integer(0, 200), Units: "percent", Symbol: "%", Levels: Full,
		Description: "Load of an output line in percent of its rating, in watts or volt-amperes, whichever is more.",
		measure:     func(v *View, row int) float64 { return v.Dev.Output.Lines[row].LoadPct },
	},
}

var bypassGroup = []Variable{
	{
		Name: "upsBypassFrequency", Label: "Bypass frequency", OID: ups(5, 1), Syntax: nonNegative,
		Units: "0.1 Hertz", Symbol: "Hz", Decimals: 1, Levels: Basic | Full,
		Description: "Frequency of the bypass.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Bypass.Frequency },
	},
	lines("upsBypassNumLines", "Bypass lines", bypassOf, ups(5, 2)...),
	lineNumber("upsBypassLineIndex", "Bypass line", bypassTable),
	{
		Name: "upsBypassVoltage", Label: "Bypass voltage", OID: bypassTable.column(2), Table: bypassTable,
		Syntax: nonNegative, Units: "RMS Volts", Symbol: "V", Levels: Basic | Full,
		Description: "Voltage of a bypass line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Bypass.Lines[row].Volts },
	},
	{
		Name: "upsBypassCurrent", Label: "Bypass current", OID: bypassTable.column(3), Table: bypassTable,
		Syntax: nonNegative, Units: "0.1 RMS Amp", Symbol: "A", Decimals: 1,
		Description: "Current of a bypass line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Bypass.Lines[row].Amps },
	},
	{
		Name: "upsBypassPower", Label: "Bypass power", OID: bypassTable.column(4), Table: bypassTable,
		Syntax: nonNegative, Units: "Watts", Symbol: "W",
		Description: "True power through a bypass line.",
		measure:     func(v *View, row int) float64 { return v.Dev.Bypass.Lines[row].Watts },
	},
}

func inputOf(d *snap.Device) *snap.Lines  { return &d.Input }
func outputOf(d *snap.Device) *snap.Lines { return &d.Output }
func bypassOf(d *snap.Device) *snap.Lines { return &d.Bypass }

// lines is the number of lines in a set: the rows of its table.
func lines(name, label string, set func(*snap.Device) *snap.Lines, oid ...uint32) Variable {
	return Variable{
		Name: name, Label: label, OID: oid, Syntax: nonNegative, Levels: Basic | Full,
		Description: "How many lines there are, which is the number of rows of their table.",
		count:       func(v *View, _ int) int64 { return int64(lineCount(set(v.Dev))) },
	}
}

// lineNumber is the index of a table of lines.
func lineNumber(name, label string, t *Table) Variable {
	return Variable{
		Name: name, Label: label, OID: t.column(1), Syntax: positive, Access: NotAccessible, Table: t,
		Description: "Number of a line, from 1.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	}
}
