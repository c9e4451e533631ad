package model

import (
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/face/ber"
)

// moduleHead is RIDETHROUGH-MIB up to its objects. The date is that of its latest
// change: raise it when the table changes what the module says.
const moduleHead = `-- RIDETHROUGH-MIB: what the simulated card of ridethrough serves beyond the
-- standards. SIMULATION: no real device has it.
--
-- Generated from the table of variables in sim/internal/face/model; a test fails
-- when the two differ. The enterprise number 32473 is reserved for examples
-- (RFC 5612): nothing under it identifies anything outside of this program.

RIDETHROUGH-MIB DEFINITIONS ::= BEGIN

IMPORTS
    MODULE-IDENTITY, OBJECT-IDENTITY, OBJECT-TYPE, NOTIFICATION-TYPE,
    Integer32, enterprises
        FROM SNMPv2-SMI
    DisplayString, TimeStamp, TruthValue
        FROM SNMPv2-TC
    OBJECT-GROUP, NOTIFICATION-GROUP, MODULE-COMPLIANCE
        FROM SNMPv2-CONF
    sysName, sysLocation
        FROM SNMPv2-MIB;

ridethroughMIB MODULE-IDENTITY
    LAST-UPDATED "202611260000Z"
    ORGANIZATION "ridethrough"
    CONTACT-INFO "The project's own repository."
    DESCRIPTION
        "Outlet groups, hosts and environmental probes of a simulated UPS as
        its network card knows them."
    REVISION     "202611260000Z"
    DESCRIPTION
        "A test message."
    REVISION     "202611250000Z"
    DESCRIPTION
        "Load, cause, order, hosts and label of outlet groups."
    REVISION     "202601010000Z"
    DESCRIPTION
        "First version."
    ::= { exampleEnterprise 1 }

exampleEnterprise OBJECT IDENTIFIER ::= { enterprises 32473 }

rtNotifications OBJECT IDENTIFIER ::= { ridethroughMIB 0 }
rtObjects       OBJECT IDENTIFIER ::= { ridethroughMIB 2 }
rtConformance   OBJECT IDENTIFIER ::= { ridethroughMIB 3 }
rtCompliances   OBJECT IDENTIFIER ::= { rtConformance 1 }
rtGroups        OBJECT IDENTIFIER ::= { rtConformance 2 }

rtCard OBJECT-IDENTITY
    STATUS      current
    DESCRIPTION
        "The simulated card: the value of its sysObjectID."
    ::= { ridethroughMIB 1 }
`

const moduleTail = `
rtCompliance MODULE-COMPLIANCE
    STATUS      current
    DESCRIPTION
        "What the card has."
    MODULE      -- this module
        MANDATORY-GROUPS { %s }
    ::= { rtCompliances 1 }

END
`

// ownGroups are the groups of objects of the module, in the order of their tables.
var ownGroups = []struct {
	group Group
	name  string
	table *Table
}{
	{GroupOutlets, "rtOutletGroup", outletTable}, {GroupHosts, "rtHostGroup", hostTable}, {GroupProbes, "rtProbeGroup", probeTable},
	{GroupContact, "rtContactGroup", contactTable},
	{GroupEnergy, "rtEnergyGroup", energyTable},
	{GroupRelay, "rtRelayGroup", relayTable},
}

// Module is docs/RIDETHROUGH-MIB.txt: the module that describes what the card
// serves beyond the standards, in SMIv2 (RFC 2578, RFC 2579, RFC 2580).
func Module() string {
	var out, groups strings.Builder
	out.WriteString(moduleHead)
	var names []string
	for i, g := range ownGroups {
		list := inGroup(g.group)
		writeTable(&out, g.table, list)
		for _, x := range list {
			writeColumn(&out, x)
		}
		names = append(names, g.name)
		writeGroup(&groups, "OBJECT-GROUP", "OBJECTS", g.name, i+1, readableNames(list))
	}
	var sent []string
	for _, n := range notifications {
		if n.OID.HasPrefix(ownTraps) {
			writeNotification(&out, n)
			sent = append(sent, n.Name)
		}
	}
	names = append(names, "rtNotificationGroup")
	writeGroup(&groups, "NOTIFICATION-GROUP", "NOTIFICATIONS", "rtNotificationGroup", len(names), sent)
	out.WriteString(groups.String())
	fmt.Fprintf(&out, moduleTail, listed(names))
	return out.String()
}

func readableNames(list []*Variable) (names []string) {
	for _, x := range list {
		if x.Access != NotAccessible {
			names = append(names, x.Name)
		}
	}
	return names
}

// writeTable writes the table, its row and the sequence of its columns.
func writeTable(out *strings.Builder, t *Table, columns []*Variable) {
	sequence := strings.ToUpper(t.Entry[:1]) + t.Entry[1:]
	fmt.Fprintf(out, "\n%s OBJECT-TYPE\n    SYNTAX      SEQUENCE OF %s\n    MAX-ACCESS  not-accessible\n    STATUS      current\n", t.Name, sequence)
	fmt.Fprintf(out, "    DESCRIPTION\n%s\n    ::= { rtObjects %d }\n", quoted(t.about), last(t.OID))
	fmt.Fprintf(out, "\n%s OBJECT-TYPE\n    SYNTAX      %s\n    MAX-ACCESS  not-accessible\n    STATUS      current\n", t.Entry, sequence)
	fmt.Fprintf(out, "    DESCRIPTION\n%s\n    INDEX       { %s }\n    ::= { %s 1 }\n", quoted("One of them."), t.Index, t.Name)
	fmt.Fprintf(out, "\n%s ::= SEQUENCE {\n", sequence)
	for i, x := range columns {
		end := ","
		if i == len(columns)-1 {
			end = ""
		}
		fmt.Fprintf(out, "    %-20s %s%s\n", x.Name, x.Syntax.Name, end)
	}
	out.WriteString("}\n")
}

func writeColumn(out *strings.Builder, x *Variable) {
	fmt.Fprintf(out, "\n%s OBJECT-TYPE\n    SYNTAX      %s\n", x.Name, folded(x.Syntax.String(), "                "))
	if x.Units != "" {
		fmt.Fprintf(out, "    UNITS       %q\n", x.Units)
	}
	fmt.Fprintf(out, "    MAX-ACCESS  %v\n    STATUS      current\n    DESCRIPTION\n%s\n    ::= { %s %d }\n", x.Access, quoted(x.Description), x.Table.Entry, last(x.OID))
}

func writeNotification(out *strings.Builder, n Notification) {
	fmt.Fprintf(out, "\n%s NOTIFICATION-TYPE\n    OBJECTS     { %s }\n    STATUS      current\n    DESCRIPTION\n%s\n    ::= { rtNotifications %d }\n",
		n.Name, listed(n.Objects), quoted(n.Description), last(n.OID))
}

func writeGroup(out *strings.Builder, macro, clause, name string, arc int, members []string) {
	fmt.Fprintf(out, "\n%s %s\n    %s { %s }\n    STATUS      current\n    DESCRIPTION\n%s\n    ::= { rtGroups %d }\n",
		name, macro, clause, listed(members), quoted("All of them."), arc)
}

func last(oid ber.OID) uint32 { return oid[len(oid)-1] }

// listed is names with commas, folded.
func listed(names []string) string {
	return folded(strings.Join(slices.Clone(names), ", "), "            ")
}

// quoted is a text of a module, indented. It must not have quotes in it.
func quoted(s string) string { return `        "` + folded(s, "        ") + `"` }

// folded is s in lines of which each but the first begins with indent.
func folded(s, indent string) string {
	const width = 60
	var out strings.Builder
	column := 0
	for i, word := range strings.Fields(s) {
		switch {
		case i > 0 && column+len(word) >= width:
			out.WriteString("\n" + indent)
			column = 0
		case i > 0:
			out.WriteByte(' ')
			column++
		}
		out.WriteString(word)
		column += len(word)
	}
	return out.String()
}
