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
		read:        func(_ *View, row int) Value { return number(int64(row) + 1) },
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
		read:        func(v *View, row int) Value { return number(int64(v.Dev.Contacts[row]) + 1) },
	},
	{
		Name: "rtContactProbe", Label: "Contact at probe", OID: contactTable.column(4), Syntax: smallIndex(snap.MaxProbes), Table: contactTable,
		Description: "Number of the probe that the contact is wired to, in rtProbeTable.",
		read:        func(v *View, row int) Value { return number(int64(v.Dev.Outlets.Roster.Contacts[row].Probe) + 1) },
	},
}
