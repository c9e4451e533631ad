package model

var configGroup = []Variable{
	{
		Name: "upsConfigInputVoltage", Label: "Nominal input voltage", OID: ups(9, 1), Syntax: nonNegative, Access: ReadWrite,
		Units: "RMS Volts", Symbol: "V", Levels: Subset | Basic | Full,
		Description: "Nominal voltage of the input.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.InputVolts },
	},
	{
		Name: "upsConfigInputFreq", Label: "Nominal input frequency", OID: ups(9, 2), Syntax: nonNegative, Access: ReadWrite,
		Units: "0.1 Hertz", Symbol: "Hz", Decimals: 1, Levels: Subset | Basic | Full,
		Description: "Nominal frequency of the input.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.InputHz },
	},
	{
		Name: "upsConfigOutputVoltage", Label: "Nominal output voltage", OID: ups(9, 3), Syntax: nonNegative, Access: ReadWrite,
		Units: "RMS Volts", Symbol: "V", Levels: Subset | Basic | Full,
		Description: "Nominal voltage of the output.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.OutputVolts },
	},
	{
		Name: "upsConfigOutputFreq", Label: "Nominal output frequency", OID: ups(9, 4), Syntax: nonNegative, Access: ReadWrite,
		Units: "0.1 Hertz", Symbol: "Hz", Decimals: 1, Levels: Subset | Basic | Full,
		Description: "Nominal frequency of the output.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.OutputHz },
	},
	{
		Name: "upsConfigOutputVA", Label: "Rated apparent power", OID: ups(9, 5), Syntax: nonNegative,
		Units: "Volt-Amps", Symbol: "VA", Levels: Subset | Basic | Full,
		Description: "Rating of the output in volt-amperes.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.OutputVA },
	},
	{
		Name: "upsConfigOutputPower", Label: "Rated power", OID: ups(9, 6), Syntax: nonNegative,
		Units: "Watts", Symbol: "W", Levels: Subset | Basic | Full,
		Description: "Rating of the output in watts.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.OutputWatts },
	},
	{
		Name: "upsConfigLowBattTime", Label: "Battery low below", OID: ups(9, 7), Syntax: nonNegative, Access: ReadWrite,
		Units: "minutes", Symbol: "min", Levels: Basic | Full,
		Description: "Runtime at which the battery counts as low. What is not supported becomes the next greater supported value, or the greatest.",
		count:       func(v *View, _ int) int64 { return int64(v.Dev.Config.LowBatteryMinutes) },
	},
	{
		Name: "upsConfigAudibleStatus", Label: "Audible alarm", OID: ups(9, 8),
		Syntax: enum("disabled", "off", "enabled", "on", "muted", "muted"), Access: ReadWrite, Levels: Basic | Full,
		Description: "Whether alarms sound; muted lasts until the present conditions have ended.",
		count:       func(v *View, _ int) int64 { return int64(v.Dev.Config.Audible) },
	},
	{
		Name: "upsConfigLowVoltageTransferPoint", Label: "Low transfer point", OID: ups(9, 9), Syntax: nonNegative, Access: ReadWrite,
		Units: "RMS Volts", Symbol: "V",
		Description: "Least input voltage at which the unit does without its battery.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.LowTransferVolts },
	},
	{
		Name: "upsConfigHighVoltageTransferPoint", Label: "High transfer point", OID: ups(9, 10), Syntax: nonNegative, Access: ReadWrite,
		Units: "RMS Volts", Symbol: "V",
		Description: "Greatest input voltage at which the unit does without its battery.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Config.HighTransferVolts },
	},
}
