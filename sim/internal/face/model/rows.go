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
)

// Tables is every table, in the order of their object identifiers.
func Tables() []*Table {
	return []*Table{resourceTable, portTable, inputTable, outputTable, bypassTable, alarmTable}
}

func lineCount(l *snap.Lines) int { return min(max(l.Count, 0), len(l.Lines)) }

func lineIndex(_ *snap.Device, row int) uint32 { return uint32(row) + 1 }
