package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// cardObject identifies the simulated card under the enterprise number that
// RFC 5612 reserves for documentation.
var cardObject = ownMIB.Child(1)

// resource is a row of sysORTable.
type resource struct {
	id    ber.OID
	descr string
}

// resources are the rows of sysORTable: what the agent supports. That of RFC 1628
// comes from conformances.
var resources = []resource{
	{ber.OID{1, 3, 6, 1, 6, 3, 1, 2, 1, 3}, "The basic SNMP agent of RFC 3418"},
	{},
	{modules(10, 3, 1, 1), "The SNMP engine of RFC 3411"},
	{modules(11, 3, 1, 1), "The message processing of RFC 3412"},
	{modules(15, 2, 1, 1), "The user-based security of RFC 3414, without its table of users"},
	{ber.OID{1, 3, 6, 1, 2, 1, 31}, "The card's port after RFC 2863, without the extensions"},
	{ber.OID{1, 3, 6, 1, 2, 1, 47}, "The parts of the unit and its probes after RFC 6933"},
	{ber.OID{1, 3, 6, 1, 2, 1, 99}, "The sensors of the unit and its probes after RFC 3433"},
	{ownMIB.Child(3, 1, 1), "Outlet groups, hosts and probes, RIDETHROUGH-MIB"},
}

// conformances are the compliance statements of RFC 1628 that a card meets.
var conformances = [snap.Conformances]resource{
	snap.ConformAll:    {compliance(3), "The fully featured UPS of RFC 1628, and the objects that it leaves open"},
	snap.ConformFull:   {compliance(3), "The fully featured UPS of RFC 1628"},
	snap.ConformBasic:  {compliance(2), "The basic UPS of RFC 1628"},
	snap.ConformSubset: {compliance(1), "The two-contact UPS of RFC 1628"},
}

// resourceAt is a row of sysORTable, counted from 0.
func (v *View) resourceAt(row int) *resource {
	if r := &resources[row]; r.id != nil {
		return r
	}
	return &conformances[min(v.Dev.Card.Settings.Conformance, snap.ConformSubset)]
}

// hostServices is the sum for layers 4 and 7 of RFC 3418: a host with applications.
const hostServices = 1<<(4-1) + 1<<(7-1)

var systemGroup = []Variable{
	{
		Name: "sysDescr", Label: "Description", OID: system(1), Syntax: display(255),
		Description: "What this is: always with the word SIMULATION, then the card's model, firmware and serial number.",
		read:        func(v *View, _ int) Value { return text(v.description()) },
	},
	{
		Name: "sysObjectID", Label: "Kind of device", OID: system(2), Syntax: objectID,
		Description: "The identity of the simulated card, under the enterprise number reserved for documentation.",
		read:        constant(Value{OID: cardObject}),
	},
	{
		Name: "sysUpTime", Label: "Up time", OID: system(3), Syntax: timeTicks,
		Description: "Time since the card's agent last started; wraps after 497 days.",
		count:       func(v *View, _ int) int64 { return v.upTime() },
	},
	{
		Name: "sysContact", Label: "Contact", OID: system(4), Syntax: display(255), Access: ReadWrite,
		Description: "Who looks after the unit and how to reach them.",
		read:        func(v *View, _ int) Value { return text(v.Dev.Card.Settings.Contact) },
	},
	{
		Name: "sysName", Label: "Name", OID: system(5), Syntax: display(255), Access: ReadWrite,
		Description: "The card's name in the network.",
		read:        func(v *View, _ int) Value { return text(v.Dev.Card.Settings.Name) },
	},
	{
		Name: "sysLocation", Label: "Location", OID: system(6), Syntax: display(255), Access: ReadWrite,
		Description: "Where the unit stands.",
		read:        func(v *View, _ int) Value { return text(v.Dev.Card.Settings.Location) },
	},
	{
		Name: "sysServices", Label: "Services", OID: system(7), Syntax: integer(0, 127),
		Description: "The layers that the card serves, as a sum of powers of two: transport and application.",
		read:        constant(number(hostServices)),
	},
	{
		Name: "sysORLastChange", Label: "Resources changed", OID: system(8), Syntax: timeStamp,
		Description: "Up time at the last change to the table of resources; it never changes while the agent runs.",
		read:        constant(number(0)),
	},
	{
		Name: "sysORIndex", Label: "Resource number", OID: resourceTable.column(1), Syntax: integer(1, maxInt32),
		Access: NotAccessible, Table: resourceTable,
		Description: "Number of a resource in the table.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "sysORID", Label: "Resource", OID: resourceTable.column(2), Syntax: objectID, Table: resourceTable,
		Description: "Identity of a set of objects that the agent supports.",
		read:        func(v *View, row int) Value { return Value{OID: v.resourceAt(row).id} },
	},
	{
		Name: "sysORDescr", Label: "Resource description", OID: resourceTable.column(3), Syntax: display(255), Table: resourceTable,
		Description: "The same in words.",
		read:        func(v *View, row int) Value { return text(v.resourceAt(row).descr) },
	},
	{
		Name: "sysORUpTime", Label: "Resource since", OID: resourceTable.column(4), Syntax: timeStamp, Table: resourceTable,
		Description: "Up time when the resource was added: the start of the agent.",
		read:        constant(number(0)),
	},
}
