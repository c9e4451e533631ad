package model

import "ridethrough/sim/internal/core/snap"

func contactRows(d *snap.Device) int {
	if d.Outlets.Roster == nil {
		return 0
	}
	return min(len(d.Outlets.Roster.Contacts), snap.MaxContacts)
}

// contactGroup is rtContactTable.
var contactGroup = []Variable{
	{
		Name: "rtContactIndex", Label: "Dry contact", OID: contactTable.column(1), Syntax: smallIndex(snap.MaxContacts), Access: NotAccessible, Table: contactTable,
		Description: "Number of a dry contact, from 1 over all probes.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "rtContactName", Label: "Contact name", OID: contactTable.column(2), Syntax: display(255), Table: contactTable,
		Description: "Name of the contact.",
		read:        func(v *View, row int) Value { return text(v.Dev.Outlets.Roster.Contacts[row].Name) },
	},
	{
		Name: "rtContactState", Label: "Contact state", OID: contactTable.column(3), Table: contactTable,
		Syntax:      enum("normal", "normal", "active", "active", "fault", "fault", "lost", "lost"),
		Description: "Whether what the contact reports is there. fault: its supervised loop is cut. lost: the cable of the probe is out.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Contacts[row]) + 1 },
	},
	{
		Name: "rtContactProbe", Label: "Contact at probe", OID: contactTable.column(4), Syntax: smallIndex(snap.MaxProbes), Table: contactTable,
		Description: "Number of the probe that the contact is wired to, in rtProbeTable.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Outlets.Roster.Contacts[row].At) + 1 },
	},
	{
		Name: "rtContactInput", Label: "Contact input", OID: contactTable.column(5), Syntax: smallIndex(snap.ContactInputs), Table: contactTable,
		Description: "Which input of that probe.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Outlets.Roster.Contacts[row].Input) },
	},
	{
		Name: "rtContactRests", Label: "Contact rests", OID: contactTable.column(6), Table: contactTable,
		Syntax:      enum("open", "open", "closed", "closed"),
		Description: "What the contact is while there is nothing to report.",
		read:        func(v *View, row int) Value { return truth(v.Dev.Outlets.Roster.Contacts[row].Rests == snap.RestsOpen) },
	},
	{
		Name: "rtContactSupervised", Label: "Contact supervised", OID: contactTable.column(7), Syntax: truthValue, Table: contactTable,
		Description: "Whether a resistor at the end of the loop lets a cut wire be told from an open contact.",
		read:        func(v *View, row int) Value { return truth(v.Dev.Outlets.Roster.Contacts[row].Supervised) },
	},
	{
		Name: "rtContactDebounce", Label: "Contact debounce", OID: contactTable.column(8), Syntax: integer32From(0), Table: contactTable,
		Units: "milliseconds", Symbol: "ms",
		Description: "How long the contact must stay open or closed before that counts.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Outlets.Roster.Contacts[row].DebounceMS) },
	},
	{
		Name: "rtContactSeverity", Label: "Contact severity", OID: contactTable.column(9), Table: contactTable,
		Syntax:      enum("info", "info", "warning", "warning", "critical", "critical"),
		Description: "How much it weighs when it reports.",
		count:       func(v *View, row int) int64 { return severity(v.Dev.Outlets.Roster.Contacts[row].Severity) },
	},
}

func severity(s snap.Severity) int64 {
	switch s {
	case snap.Info:
		return 1
	case snap.Critical:
		return 3
	}
	return 2
}
