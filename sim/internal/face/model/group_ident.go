package model

var identGroup = []Variable{
	{
		Name: "upsIdentManufacturer", Label: "Manufacturer", OID: ups(1, 1), Syntax: display(31),
		Levels: Subset | Basic | Full, Description: "Who made the unit.",
		read: func(v *View, _ int) Value { return text(v.Dev.UPS.Manufacturer) },
	},
	{
		Name: "upsIdentModel", Label: "Model", OID: ups(1, 2), Syntax: display(63),
		Levels: Subset | Basic | Full, Description: "The unit's model.",
		read: func(v *View, _ int) Value { return text(v.Dev.UPS.Model) },
	},
	{
		Name: "upsIdentUPSSoftwareVersion", Label: "UPS firmware", OID: ups(1, 3), Syntax: display(63),
		Levels: Basic | Full, Description: "Version of the unit's own firmware.",
		read: func(v *View, _ int) Value { return text(v.Dev.UPS.Firmware) },
	},
	{
		Name: "upsIdentAgentSoftwareVersion", Label: "Card firmware", OID: ups(1, 4), Syntax: display(63),
		Levels: Subset | Basic | Full, Description: "Version of the card's firmware.",
		read: func(v *View, _ int) Value { return text(v.Dev.Card.Identity.Firmware) },
	},
	{
		Name: "upsIdentName", Label: "UPS name", OID: ups(1, 5), Syntax: display(63), Access: ReadWrite,
		Levels: Subset | Basic | Full, Description: "The unit's name, given by its keeper.",
		read: func(v *View, _ int) Value { return text(v.Dev.Card.Settings.UPSName) },
	},
	{
		Name: "upsIdentAttachedDevices", Label: "Attached devices", OID: ups(1, 6), Syntax: display(63), Access: ReadWrite,
		Levels: Subset | Full, Description: "What is fed by the unit, in words of its keeper.",
		read: func(v *View, _ int) Value { return text(v.Dev.Card.Settings.Attached) },
	},
}
