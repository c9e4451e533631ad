package model

import (
	_ "embed"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/snap"
)

//go:embed conformance.md
var conformanceText string

// Conformance is docs/snmp.md: the prose of conformance.md, with each line of the
// form {{name}} replaced by what the table says.
func Conformance() string {
	parts := map[string]func() string{
		"groups": groupTable, "objects": objectTables, "notifications": notificationTable,
		"levels": levelTable,
	}
	var out strings.Builder
	for line := range strings.Lines(conformanceText) {
		name, ok := strings.CutPrefix(strings.TrimSpace(line), "{{")
		if part := parts[strings.TrimSuffix(name, "}}")]; ok && part != nil {
			line = part()
		}
		out.WriteString(line)
	}
	return out.String()
}

// sources is where each group is defined.
var sources = []struct {
	group  Group
	source string
}{
	{GroupSystem, "SNMPv2-MIB, RFC 3418"}, {GroupPort, "IF-MIB, RFC 2863: the card's port"}, {GroupSNMP, "SNMPv2-MIB, RFC 3418"},
	{GroupIdent, "UPS-MIB, RFC 1628"}, {GroupBattery, "UPS-MIB, RFC 1628"}, {GroupInput, "UPS-MIB, RFC 1628"},
	{GroupOutput, "UPS-MIB, RFC 1628"}, {GroupBypass, "UPS-MIB, RFC 1628"}, {GroupAlarm, "UPS-MIB, RFC 1628"},
	{GroupTest, "UPS-MIB, RFC 1628"}, {GroupControl, "UPS-MIB, RFC 1628"}, {GroupConfig, "UPS-MIB, RFC 1628"},
	{GroupEntity, "ENTITY-MIB, RFC 6933: entPhysicalTable"}, {GroupSensor, "ENTITY-SENSOR-MIB, RFC 3433"},
	{GroupOutlets, "RIDETHROUGH-MIB, our own"}, {GroupHosts, "RIDETHROUGH-MIB, our own"}, {GroupProbes, "RIDETHROUGH-MIB, our own"},
	{GroupContact, "RIDETHROUGH-MIB, our own"},
	{GroupEnergy, "RIDETHROUGH-MIB, our own"},
	{GroupRelay, "RIDETHROUGH-MIB, our own"},
	{GroupSet, "SNMPv2-MIB, RFC 3418"}, {GroupEngine, "SNMP-FRAMEWORK-MIB, RFC 3411"}, {GroupMPD, "SNMP-MPD-MIB, RFC 3412"},
	{GroupTarget, "SNMP-TARGET-MIB, RFC 3413: its counters"}, {GroupUSM, "SNMP-USER-BASED-SM-MIB, RFC 3414: usmStats"},
}

func inGroup(g Group) (list []*Variable) {
	for _, x := range variables {
		if x.Group == g {
			list = append(list, x)
		}
	}
	return list
}

func groupTable() string {
	var out strings.Builder
	out.WriteString("| group | defined in | objects | of them writable |\n| --- | --- | --- | --- |\n")
	for _, s := range sources {
		writable, list := 0, inGroup(s.group)
		for _, x := range list {
			if x.Access == ReadWrite {
				writable++
			}
		}
		fmt.Fprintf(&out, "| %s | %s | %d | %d |\n", s.group, s.source, len(list), writable)
	}
	return out.String()
}

func objectTables() string {
	var out strings.Builder
	for i, s := range sources {
		if i > 0 {
			out.WriteString("\n")
		}
		fmt.Fprintf(&out, "### %s\n\n| object | identifier | syntax | units | access | level | meaning |\n| --- | --- | --- | --- | --- | --- | --- |\n", s.group)
		for _, x := range inGroup(s.group) {
			fmt.Fprintf(&out, "| %s | %v | %v | %s | %v | %s | %s |\n", x.Name, x.OID, x.Syntax, x.Units, x.Access, x.Levels.Least(), x.Description)
		}
	}
	return out.String()
}

// levelTable says how many objects of RFC 1628 a card of each level has.
func levelTable() string {
	var out strings.Builder
	out.WriteString("| conformance | objects of RFC 1628 | notifications carry |\n| --- | --- | --- |\n")
	for level := range snap.Conformances {
		n := 0
		for _, x := range Served(level) {
			if x.OID.HasPrefix(upsMIB) {
				n++
			}
		}
		onBattery, _ := NotificationAt(snap.NotifyOnBattery, level)
		fmt.Fprintf(&out, "| %v | %d | upsTrapOnBattery: %s |\n", level, n, strings.Join(onBattery.Objects, ", "))
	}
	return out.String()
}

// Least is the level that asks for the fewest objects, "" if none asks.
func (l Level) Least() string {
	for i, name := range []string{"subset", "basic", "full"} {
		if l&(1<<i) != 0 {
			return name
		}
	}
	return ""
}

func notificationTable() string {
	var out strings.Builder
	out.WriteString("| notification | identifier | carries | when |\n| --- | --- | --- | --- |\n")
	for _, n := range notifications {
		fmt.Fprintf(&out, "| %s | %v | %s | %s |\n", n.Name, n.OID, strings.Join(n.Objects, ", "), n.Description)
	}
	return out.String()
}
