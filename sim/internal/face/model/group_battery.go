package model

var batteryGroup = []Variable{
	{
		Name: "upsBatteryStatus", Label: "Battery status", OID: ups(2, 1),
		Syntax: enum("unknown", "unknown", "batteryNormal", "normal", "batteryLow", "low", "batteryDepleted", "depleted"),
		Levels: Subset | Basic | Full,
		Description: "Whether the runtime left exceeds upsConfigLowBattTime (normal) or not (low), or the load could " +
			"not be carried at all if the mains failed now (depleted). Says nothing about being on battery.",
		count: func(v *View, _ int) int64 { return int64(v.Dev.Battery.Status) },
	},
	{
		Name: "upsSecondsOnBattery", Label: "Time on battery", OID: ups(2, 2), Syntax: nonNegative,
		Units: "seconds", Symbol: "s", Levels: Subset | Basic | Full,
		Description: "Whole seconds since the transfer to battery or since the card started, whichever is less; 0 when not on battery.",
		count:       func(v *View, _ int) int64 { return v.onBattery() },
	},
	{
		Name: "upsEstimatedMinutesRemaining", Label: "Runtime left", OID: ups(2, 3), Syntax: positive,
		Units: "minutes", Symbol: "min", Rounding: Down, Levels: Full,
		Description: "Estimated runtime under the present load, also while the mains are there; rounded down, but never less than 1.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Battery.RuntimeS / 60 },
	},
	{
		Name: "upsEstimatedChargeRemaining", Label: "Charge", OID: ups(2, 4), Syntax: integer(0, 100),
		Units: "percent", Symbol: "%", Levels: Full,
		Description: "Estimated charge in percent of a full battery.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Battery.ChargePct },
	},
	{
		Name: "upsBatteryVoltage", Label: "Battery voltage", OID: ups(2, 5), Syntax: nonNegative,
		Units: "0.1 Volt DC", Symbol: "V", Decimals: 1,
		Description: "Voltage at the terminals of the whole string.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Battery.Volts },
	},
	{
		Name: "upsBatteryCurrent", Label: "Battery current", OID: ups(2, 6), Syntax: integer32,
		Units: "0.1 Amp DC", Symbol: "A", Decimals: 1,
		Description: "Current of the battery: positive while it discharges, negative while it is charged.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Battery.Amps },
	},
	{
		Name: "upsBatteryTemperature", Label: "Battery temperature", OID: ups(2, 7), Syntax: integer32,
		Units: "degrees Centigrade", Symbol: "C",
		Description: "Temperature at or near the battery, in whole degrees.",
		measure:     func(v *View, _ int) float64 { return v.Dev.Battery.TempC },
	},
}
