package model

import (
	"math"

	"ridethrough/sim/internal/core/snap"
)

// meterOf is the outlet group, counted from 0, of a row of rtEnergyTable; -1 is
// all of them, the first row. What hangs past the unit has no meter.
func meterOf(d *snap.Device, row int) int {
	for i := range d.Outlets.Roster.Groups {
		if row > 0 && !d.Outlets.Roster.Groups[i].Mains {
			row--
			if row == 0 {
				return i
			}
		}
	}
	return -1
}

func meterRows(d *snap.Device) int {
	if d.Energy == nil || d.Outlets.Roster == nil || len(d.Energy.Groups) < groupRows(d) {
		return 0
	}
	n := 1
	for i := range groupRows(d) {
		if !d.Outlets.Roster.Groups[i].Mains {
			n++
		}
	}
	return n
}

func (v *View) used(row int) snap.Used {
	if i := meterOf(v.Dev, row); i >= 0 {
		return v.Dev.Energy.Group(i, v.Now)
	}
	return v.Dev.Energy.Total(v.Now)
}

// energyGroup is rtEnergyTable.
var energyGroup = []Variable{
	{
		Name: "rtEnergyIndex", Label: "Meter", OID: energyTable.column(1), Syntax: smallIndex(snap.MaxGroups + 1), Access: NotAccessible, Table: energyTable,
		Description: "Number of a meter: 1 is all of them together, then follow those of the outlet groups that have one.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "rtEnergyName", Label: "Meter name", OID: energyTable.column(2), Syntax: display(255), Table: energyTable,
		Description: "Name of the outlet group; total for all of them.",
		read: func(v *View, row int) Value {
			if i := meterOf(v.Dev, row); i >= 0 {
				return text(v.Dev.Outlets.Roster.Groups[i].Name)
			}
			return text("total")
		},
	},
	{
		Name: "rtEnergyOfGroup", Label: "Meter of group", OID: energyTable.column(3), Syntax: integerNamed(0, snap.MaxGroups), Table: energyTable,
		Description: "Number of the outlet group in rtGroupTable; 0 for all of them.",
		count:       func(v *View, row int) int64 { return int64(meterOf(v.Dev, row)) + 1 },
	},
	{
		Name: "rtEnergyPower", Label: "Power now", OID: energyTable.column(4), Syntax: integer32From(0), Table: energyTable,
		Units: "watts", Symbol: "W",
		Description: "What is drawn now.",
		measure:     func(v *View, row int) float64 { return v.used(row).W },
	},
	{
		Name: "rtEnergyHourPower", Label: "Power, last hour", OID: energyTable.column(5), Syntax: integer32From(0), Table: energyTable,
		Units: "watts", Symbol: "W",
		Description: "What was drawn on average over the last hour, or since the simulation began if that is less.",
		measure:     func(v *View, row int) float64 { return v.used(row).HourW },
	},
	{
		Name: "rtEnergyUsed", Label: "Energy", OID: energyTable.column(6), Syntax: integer32From(0), Table: energyTable,
		Units: "0.001 kilowatt hours", Symbol: "kWh", Decimals: 3,
		Description: "What was drawn since the meters were last set to 0. It goes on over restarts of the card.",
		measure:     func(v *View, row int) float64 { return v.used(row).Wh / 1000 },
	},
	{
		Name: "rtEnergySince", Label: "Meters running for", OID: energyTable.column(7), Syntax: integer32From(-1), Table: energyTable,
		Units: "seconds", Symbol: "s",
		Description: "How long ago the meters were last set to 0, by the card's clock; -1 if they never were.",
		read: func(v *View, _ int) Value {
			if v.Dev.Energy.Since == 0 {
				return number(-1)
			}
			ms := int64(v.Dev.Card.Clock.Stamp(v.Now) - v.Dev.Energy.Since)
			return number(min(max(ms/1000, 0), math.MaxInt32)) // the clock may have been set back
		},
	},
}
