package model

// ethernet is ethernetCsmacd of the registry of interface types.
const ethernet = 6

// portGroup is ifNumber and ifTable of RFC 2863 with one row: the card's port.
// It counts the SNMP messages alone, in the octets of their UDP payload: nothing
// else on the wire is simulated.
var portGroup = []Variable{
	{
		Name: "ifNumber", Label: "Ports", OID: interfaces(1), Syntax: integer32,
		Description: "How many network ports the card has.",
		read:        constant(number(1)),
	},
	{
		Name: "ifIndex", Label: "Port", OID: portTable.column(1), Syntax: ifIndex, Table: portTable,
		Description: "Number of the port.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "ifDescr", Label: "Port description", OID: portTable.column(2), Syntax: display(255), Table: portTable,
		Description: "The port in words.",
		read:        constant(text("Ethernet port of the card, SIMULATION")),
	},
	{
		Name: "ifType", Label: "Port type", OID: portTable.column(3), Table: portTable,
		Syntax:      ifType,
		Description: "Kind of the port: Ethernet, 6.",
		read:        constant(number(ethernet)),
	},
	{
		Name: "ifMtu", Label: "Greatest packet", OID: portTable.column(4), Syntax: integer32, Table: portTable,
		Units: "octets", Symbol: "octets", Description: "The greatest packet that the port carries.",
		read: constant(number(1500)),
	},
	{
		Name: "ifSpeed", Label: "Port speed", OID: portTable.column(5), Syntax: gauge32, Table: portTable,
		Units: "bits per second", Symbol: "bit/s", Description: "Speed of the port, as it was set or negotiated; 0 while it has come to none.",
		count: func(v *View, _ int) int64 { return int64(v.Dev.Card.PortNow().Mbit) * 1_000_000 },
	},
	{
		Name: "ifPhysAddress", Label: "Hardware address", OID: portTable.column(6), Syntax: physAddress, Table: portTable,
		Description: "Hardware address of the port.",
		read:        func(v *View, _ int) Value { return text(v.hardware()) },
	},
	{
		Name: "ifAdminStatus", Label: "Port wanted", OID: portTable.column(7), Table: portTable, Syntax: portStatus,
		Description: "State that the port should be in. It cannot be written, which RFC 2863 allows.",
		read:        constant(number(1)),
	},
	{
		Name: "ifOperStatus", Label: "Port state", OID: portTable.column(8), Table: portTable, Syntax: portStatus,
		Description: "State that the port is in: down while the network lead is out.",
		read:        func(v *View, _ int) Value { return truth(!v.Dev.Card.LinkDown) },
	},
	{
		Name: "ifLastChange", Label: "Port since", OID: portTable.column(9), Syntax: timeTicks, Table: portTable,
		Description: "Up time when the port came into its state; 0 if that was before the agent started.",
		count:       func(v *View, _ int) int64 { return ticks(v.Dev.Card.Runs(v.Dev.Card.LinkSince)) },
	},
	portCounted(10, "ifInOctets", "Octets received", "Octets of SNMP messages that arrived.",
		func(v *View, _ int) Value { return number(int64(v.Counters.Load(InOctets))) }),
	portCounted(11, "ifInUcastPkts", "Packets received", "SNMP messages that arrived.",
		func(v *View, _ int) Value { return number(int64(v.Counters.Load(InPkts))) }),
	portCounted(13, "ifInDiscards", "Packets received and dropped", "Nothing is dropped before it is looked at.", constant(number(0))),
	portCounted(14, "ifInErrors", "Packets received with errors", "Frames that arrived damaged: the lead, or another duplex at the other end (card.md). They are known a second late.",
		func(v *View, _ int) Value { return number(int64(v.Dev.Card.PortNow().InErrors)) }),
	portCounted(15, "ifInUnknownProtos", "Packets of unknown protocols", "Nothing but SNMP is counted.", constant(number(0))),
	portCounted(16, "ifOutOctets", "Octets sent", "Octets of SNMP messages that were sent.",
		func(v *View, _ int) Value { return number(int64(v.Counters.Load(OutOctets))) }),
	portCounted(17, "ifOutUcastPkts", "Packets sent", "SNMP messages that were sent.",
		func(v *View, _ int) Value { return number(int64(v.Counters.Load(OutPkts))) }),
	portCounted(19, "ifOutDiscards", "Packets to send dropped", "Nothing to be sent is dropped.", constant(number(0))),
	portCounted(20, "ifOutErrors", "Packets to send with errors", "Frames with a late collision: the other end has full duplex and the card half. They are known a second late.",
		func(v *View, _ int) Value { return number(int64(v.Dev.Card.PortNow().OutErrors)) }),
}

// portStatus is of RFC 2863 ifOperStatus, which ifAdminStatus begins.
var portStatus = enum("up", "up", "down", "down", "testing", "testing")

// ifType is the one value of IANAifType that is ever shown.
var ifType = Syntax{
	Name: "IANAifType", Tag: ifIndex.Tag, Min: ethernet, Max: ethernet,
	Enums: []Enum{{Number: ethernet, Name: "ethernetCsmacd", Word: "Ethernet"}},
}

func portCounted(column uint32, name, label, description string, read func(*View, int) Value) Variable {
	return Variable{
		Name: name, Label: label, OID: portTable.column(column), Syntax: counter32, Table: portTable,
		Description: description, read: read,
	}
}
