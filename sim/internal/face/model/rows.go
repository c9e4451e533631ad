package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// Table is a conceptual table; its columns are variables that point to it.
type Table struct {
	Name, Entry string
	OID         ber.OID // of the table; that of the entry has an arc 1 behind it
	Index       string  // name of the column whose value is the instance

	about string // of our own tables: what a row is

	rows  func(*snap.Device) int
	index func(dev *snap.Device, row int) uint32
}

// column is the identifier of the table's n-th column.
func (t *Table) column(n uint32) ber.OID { return t.OID.Child(1, n) }

// The tables, in the order of their object identifiers.
var (
	resourceTable = &Table{
		Name: "sysORTable", Entry: "sysOREntry", Index: "sysORIndex", OID: system(9),
		rows:  func(*snap.Device) int { return len(resources) },
		index: lineIndex,
	}
	portTable = &Table{
		Name: "ifTable", Entry: "ifEntry", Index: "ifIndex", OID: interfaces(2),
		rows:  func(*snap.Device) int { return 1 },
		index: lineIndex,
	}
	inputTable = &Table{
		Name: "upsInputTable", Entry: "upsInputEntry", Index: "upsInputLineIndex", OID: ups(3, 3),
		rows:  func(d *snap.Device) int { return lineCount(&d.Input) },
		index: lineIndex,
	}
	outputTable = &Table{
		Name: "upsOutputTable", Entry: "upsOutputEntry", Index: "upsOutputLineIndex", OID: ups(4, 4),
		rows:  func(d *snap.Device) int { return lineCount(&d.Output) },
		index: lineIndex,
	}
	bypassTable = &Table{
		Name: "upsBypassTable", Entry: "upsBypassEntry", Index: "upsBypassLineIndex", OID: ups(5, 3),
		rows:  func(d *snap.Device) int { return lineCount(&d.Bypass) },
		index: lineIndex,
	}
	alarmTable = &Table{
		Name: "upsAlarmTable", Entry: "upsAlarmEntry", Index: "upsAlarmId", OID: ups(6, 2),
		rows:  func(d *snap.Device) int { return d.Alarms.Count },
		index: func(d *snap.Device, row int) uint32 { return uint32(d.Alarms.Rows[row].ID) },
	}
	entityTable = &Table{
		Name: "entPhysicalTable", Entry: "entPhysicalEntry", Index: "entPhysicalIndex", OID: ber.OID{1, 3, 6, 1, 2, 1, 47, 1, 1, 1},
		rows: entityRows, index: entityIndex,
	}
	sensorTable = &Table{
		Name: "entPhySensorTable", Entry: "entPhySensorEntry", Index: "entPhysicalIndex", OID: ber.OID{1, 3, 6, 1, 2, 1, 99, 1, 1},
		rows: sensorRows, index: sensorIndex,
	}
	outletTable = &Table{
		Name: "rtGroupTable", Entry: "rtGroupEntry", Index: "rtGroupIndex", OID: own(1),
		rows: groupRows, index: lineIndex, about: "Outlet groups of the UPS: outlets that are switched together.",
	}
	hostTable = &Table{
		Name: "rtHostTable", Entry: "rtHostEntry", Index: "rtHostIndex", OID: own(2),
		rows: hostRows, index: lineIndex, about: "Hosts on the outlets of the UPS, as the card knows them.",
	}
	probeTable = &Table{
		Name: "rtProbeTable", Entry: "rtProbeEntry", Index: "rtProbeIndex", OID: own(3),
		rows: probeRows, index: lineIndex, about: "Environmental probes of the card, with their limits.",
	}
	contactTable = &Table{
		Name: "rtContactTable", Entry: "rtContactEntry", Index: "rtContactIndex", OID: own(4),
		rows: contactRows, index: lineIndex, about: "Dry contacts at the probes.",
	}
	energyTable = &Table{
		Name: "rtEnergyTable", Entry: "rtEnergyEntry", Index: "rtEnergyIndex", OID: own(8),
		rows: meterRows, index: lineIndex, about: "Meters of the outlet groups, and all of them together.",
	}
	relayTable = &Table{
		Name: "rtRelayTable", Entry: "rtRelayEntry", Index: "rtRelayIndex", OID: own(9),
		rows: relayRows, index: lineIndex, about: "Relay outputs of the card that are set.",
	}
)

// Tables is every table, in the order of their object identifiers.
func Tables() []*Table {
	return []*Table{resourceTable, portTable, inputTable, outputTable, bypassTable, alarmTable,
		entityTable, sensorTable, outletTable, hostTable, probeTable, contactTable, energyTable, relayTable}
}

func lineCount(l *snap.Lines) int { return min(max(l.Count, 0), len(l.Lines)) }

func lineIndex(_ *snap.Device, row int) uint32 { return uint32(row) + 1 }
