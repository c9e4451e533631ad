package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// noLimit is a limit that was not set, withOutput the delay of a group without one.
const noLimit, withOutput = maxInt32, -1

func groupRows(d *snap.Device) int {
	if d.Outlets.Roster == nil {
		return 0
	}
	return min(len(d.Outlets.Roster.Groups), snap.MaxGroups)
}

func hostRows(d *snap.Device) int {
	if d.Outlets.Roster == nil {
		return 0
	}
	return len(d.Outlets.Roster.Hosts)
}

// milliseconds is a delay; one that never ends is -1.
func milliseconds(t vtime.Tick) Value {
	if t == vtime.Never {
		return number(withOutput)
	}
	return number(int64(t))
}

// groupState is the syntax of a group's state, which a notification carries too.
var groupState = enum("on", "on", "off", "off", "turningOn", "off, on soon", "turningOff", "on, off soon", "unknown", "unknown")

// outletGroup is rtGroupTable.
var outletGroup = []Variable{
	{
		Name: "rtGroupIndex", Label: "Outlet group", OID: outletTable.column(1), Syntax: smallIndex(snap.MaxGroups), Access: NotAccessible, Table: outletTable,
		Description: "Number of an outlet group, from 1.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "rtGroupName", Label: "Outlet group name", OID: outletTable.column(2), Syntax: display(255), Table: outletTable,
		Description: "Name of the outlet group.",
		read:        func(v *View, row int) Value { return text(v.Dev.Outlets.Roster.Groups[row].Name) },
	},
	{
		Name: "rtGroupState", Label: "Outlet group state", OID: outletTable.column(3), Table: outletTable, Syntax: groupState,
		Description: "Whether the outlets of the group are live. turningOn and turningOff: they are not, or are, and a delay runs " +
			"after which that changes. unknown: the group is fed past the unit, and the card does not see it.",
		count: func(v *View, row int) int64 { return int64(v.Dev.Outlets.Group(row)) },
	},
	{
		Name: "rtGroupFedBy", Label: "Outlet group fed by", OID: outletTable.column(4), Table: outletTable, Syntax: enum("ups", "the UPS", "mains", "the mains"),
		Description: "What feeds the group: the output of the UPS, or the supply of the site past it.",
		read:        func(v *View, row int) Value { return truth(!v.Dev.Outlets.Roster.Groups[row].Mains) },
	},
	{
		Name: "rtGroupOnDelay", Label: "Outlet group on after", OID: outletTable.column(5), Syntax: integer32From(0), Table: outletTable,
		Units: "milliseconds", Symbol: "ms",
		Description: "From the output of the UPS coming on to the outlets of the group coming on.",
		read:        func(v *View, row int) Value { return milliseconds(v.Dev.Outlets.Roster.Groups[row].OnDelay) },
	},
	{
		Name: "rtGroupOffDelay", Label: "Outlet group off after", OID: outletTable.column(6), Syntax: integer32From(withOutput), Table: outletTable,
		Units: "milliseconds", Symbol: "ms",
		Description: "From the start of a shutdown countdown to the outlets of the group going off; -1 if they go off with the output.",
		read:        func(v *View, row int) Value { return milliseconds(v.Dev.Outlets.Roster.Groups[row].OffDelay) },
	},
	{
		Name: "rtGroupPower", Label: "Outlet group load", OID: outletTable.column(7), Syntax: integer32From(-1), Table: outletTable,
		Units: "RMS watts", Symbol: "W",
		Description: "What is drawn on the group; -1 if the group is fed past the unit, which does not measure it.",
		measure: func(v *View, row int) float64 {
			if v.Dev.Outlets.Roster.Groups[row].Mains {
				return -1
			}
			return float64(v.Dev.Outlets.LoadW[row])
		},
	},
	{
		Name: "rtGroupCause", Label: "Outlet group waits for", OID: outletTable.column(8), Table: outletTable,
		Syntax: enum("none", "nothing", "order", "off by order", "shed", "shed", "charge", "waits for charge", "delay", "its delay runs"),
		Description: "Why the group is not as the output is. order: somebody ordered it off. shed: the shutdown countdown or a rule of its " +
			"own took it off. charge: it waits for charge. delay: its delay runs.",
		count: func(v *View, row int) int64 { return int64(v.Dev.Outlets.Cause(row)) + 1 },
	},
	{
		Name: "rtGroupOrder", Label: "Outlet group order", OID: outletTable.column(9), Table: outletTable, Access: ReadWrite,
		Syntax: enum("none", "none", "off", "off", "on", "on", "cycle", "off, then on"),
		Description: "Write off, on or cycle (off, and on again by itself after 10 s or its shortest time off) to switch the group; none does " +
			"nothing. It always reads none. Refused with inconsistentValue while switching from remote is locked out at the unit, " +
			"for a group that is fed past the unit, and to cycle one that is off. What hangs on the group is cut off at once: nobody is asked.",
		count: func(*View, int) int64 { return int64(snap.OrderNone) },
	},
	{
		Name: "rtGroupHosts", Label: "Outlet group hosts", OID: outletTable.column(10), Syntax: display(255), Table: outletTable,
		Description: "Names of the hosts that the card was told are on the group. It cannot see them: compare rtGroupPower.",
		read:        func(v *View, row int) Value { return text(v.Dev.Outlets.Roster.Groups[row].Hosts) },
	},
	{
		Name: "rtGroupLabel", Label: "Outlet group label", OID: outletTable.column(11), Syntax: display(63), Table: outletTable,
		Description: "What the group is called on site.",
		read:        func(v *View, row int) Value { return text(v.Dev.Outlets.Roster.Groups[row].Label) },
	},
}

// hostGroup is rtHostTable. What a host does the card cannot see: it knows which
// of its outlets are live.
var hostGroup = []Variable{
	{
		Name: "rtHostIndex", Label: "Host", OID: hostTable.column(1), Syntax: smallIndex(500), Access: NotAccessible, Table: hostTable,
		Description: "Number of a host that the card was told of, from 1.",
		count:       func(_ *View, row int) int64 { return int64(row) + 1 },
	},
	{
		Name: "rtHostName", Label: "Host name", OID: hostTable.column(2), Syntax: display(255), Table: hostTable,
		Description: "Name of the host.",
		read:        func(v *View, row int) Value { return text(v.Dev.Outlets.Roster.Hosts[row].Name) },
	},
	{
		Name: "rtHostPower", Label: "Host power", OID: hostTable.column(3), Table: hostTable,
		Syntax: enum("powered", "powered", "unpowered", "without power", "unknown", "unknown"),
		Description: "Whether an outlet that feeds the host is live, as far as the card sees: unknown if none is and another supply of the " +
			"host is fed past the UPS. It does not tell whether the host is at work.",
		count: func(v *View, row int) int64 { return v.hostPower(&v.Dev.Outlets.Roster.Hosts[row]) },
	},
	{
		Name: "rtHostSupplies", Label: "Host supplies", OID: hostTable.column(4), Syntax: integer32From(0), Table: hostTable,
		Description: "How many supplies the host has.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Outlets.Roster.Hosts[row].Supplies) },
	},
	{
		Name: "rtHostSuppliesLive", Label: "Host supplies live", OID: hostTable.column(5), Syntax: integer32From(0), Table: hostTable,
		Description: "How many of the groups that feed it the card sees live.",
		read: func(v *View, row int) Value {
			live, _ := v.supplies(&v.Dev.Outlets.Roster.Hosts[row])
			return number(live)
		},
	},
	{
		Name: "rtHostGroups", Label: "Host fed by", OID: hostTable.column(6), Syntax: display(255), Table: hostTable,
		Description: "Names of the outlet groups that feed it.",
		read:        func(v *View, row int) Value { return text(v.Dev.Outlets.Roster.Hosts[row].Fed) },
	},
}

// supplies counts the groups that feed h and are seen live, and those that the
// card does not see.
func (v *View) supplies(h *snap.RosterHost) (live, unseen int64) {
	for i := range groupRows(v.Dev) {
		if h.Groups&(1<<i) == 0 {
			continue
		}
		switch v.Dev.Outlets.Group(i) {
		case snap.GroupUnknown:
			unseen++
		case snap.GroupOn, snap.GroupTurningOff:
			live++
		}
	}
	return live, unseen
}

func (v *View) hostPower(h *snap.RosterHost) int64 {
	const powered, unpowered, unknown = 1, 2, 3
	switch live, unseen := v.supplies(h); {
	case live > 0:
		return powered
	case unseen > 0:
		return unknown
	}
	return unpowered
}
