package model

import "ridethrough/sim/internal/core/snap"

// relayRows are the relays that are set, in the order of the settings.
func relayRows(d *snap.Device) int { return min(len(d.Card.Settings.Relays), snap.MaxRelays) }

func (v *View) relay(row int) snap.Relay {
	return v.Dev.Card.Relay(v.Dev.Card.Settings.Relays[row].Output)
}

// relayGroup is rtRelayTable.
var relayGroup = []Variable{
	{
		Name: "rtRelayIndex", Label: "Relay output", OID: relayTable.column(1), Syntax: smallIndex(snap.MaxRelays), Access: NotAccessible, Table: relayTable,
		Description: "Number of a relay in the order of the settings.",
		read:        func(_ *View, row int) Value { return number(int64(row) + 1) },
	},
	{
		Name: "rtRelayName", Label: "Relay name", OID: relayTable.column(2), Syntax: display(255), Table: relayTable,
		Description: "Name of the relay.",
		read:        func(v *View, row int) Value { return text(v.Dev.Card.Settings.Relays[row].Name) },
	},
	{
		Name: "rtRelayOutput", Label: "Relay at output", OID: relayTable.column(3), Syntax: smallIndex(snap.MaxRelays), Table: relayTable,
		Description: "Which of the relay outputs of the card it is.",
		read:        func(v *View, row int) Value { return number(int64(v.Dev.Card.Settings.Relays[row].Output)) },
	},
	{
		Name: "rtRelayContact", Label: "Relay contact", OID: relayTable.column(4), Table: relayTable,
		Syntax:      enum("open", "open", "closed", "closed"),
		Description: "Position of the contact that is open while the coil has no current.",
		read:        func(v *View, row int) Value { return truth(!v.relay(row).Closed) },
	},
	{
		Name: "rtRelayReporting", Label: "Relay reporting", OID: relayTable.column(5), Syntax: truthValue, Table: relayTable,
		Description: "Whether it reports something, or is tested.",
		read:        func(v *View, row int) Value { return truth(v.relay(row).Alarm) },
	},
	{
		Name: "rtRelayReports", Label: "Relay reports", OID: relayTable.column(6), Syntax: display(255), Table: relayTable,
		Description: "What it reports: words with commas between them, or none.",
		read:        func(v *View, row int) Value { return text(v.Dev.Card.Settings.Relays[row].When.String()) },
	},
	{
		Name: "rtRelaySense", Label: "Relay current", OID: relayTable.column(7), Table: relayTable,
		Syntax:      enum("onAlarm", "on alarm", "atRest", "at rest"),
		Description: "When its coil has current: while it reports something, or while it does not.",
		read:        func(v *View, row int) Value { return truth(v.Dev.Card.Settings.Relays[row].Sense == snap.SenseAlarm) },
	},
	{
		Name: "rtRelayTurns", Label: "Relay turns", OID: relayTable.column(8), Syntax: integer32From(0), Table: relayTable,
		Description: "How often it moved since the simulation began. A test adds two.",
		read:        func(v *View, row int) Value { return number(int64(v.relay(row).Turns)) },
	},
}
