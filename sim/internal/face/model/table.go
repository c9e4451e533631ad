package model

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// variables is the table, in the order of object identifiers, and byName finds
// its rows. Neither changes after the program has started.
var variables, byName = assemble()

func assemble() ([]*Variable, map[string]*Variable) {
	var all []*Variable
	for _, part := range []struct {
		group Group
		rows  []Variable
	}{
		{GroupSystem, systemGroup}, {GroupPort, portGroup}, {GroupSNMP, snmpGroup}, {GroupIdent, identGroup},
		{GroupBattery, batteryGroup}, {GroupInput, inputGroup}, {GroupOutput, outputGroup},
		{GroupBypass, bypassGroup}, {GroupAlarm, alarmGroup}, {GroupTest, testGroup},
		{GroupControl, controlGroup}, {GroupConfig, configGroup}, {GroupEntity, entityGroup}, {GroupSensor, sensorGroup},
		{GroupOutlets, outletGroup}, {GroupHosts, hostGroup}, {GroupProbes, probeGroup}, {GroupContact, contactGroup}, {GroupEnergy, energyGroup}, {GroupRelay, relayGroup}, {GroupSet, setGroup},
		{GroupEngine, engineGroup}, {GroupMPD, mpdGroup}, {GroupTarget, targetGroup}, {GroupUSM, usmGroup},
	} {
		for i := range part.rows {
			part.rows[i].Group = part.group
			part.rows[i].head = ber.Head(part.rows[i].OID)
			all = append(all, &part.rows[i])
		}
	}
	slices.SortFunc(all, func(a, b *Variable) int { return a.OID.Compare(b.OID) })
	names := make(map[string]*Variable, len(all))
	for _, x := range all {
		names[x.Name] = x
	}
	return all, names
}

// served is the variables that can be read at each level, in the order of object
// identifiers.
var served = func() (lists [snap.Conformances][]*Variable) {
	for level := range lists {
		for _, x := range variables {
			if x.Access != NotAccessible && x.In(snap.Conformance(level)) {
				lists[level] = append(lists[level], x)
			}
		}
	}
	return lists
}()

// Served is every variable that can be read at that level, in the order of object
// identifiers. Treat it as constant.
func Served(level snap.Conformance) []*Variable {
	return served[min(level, snap.ConformSubset)]
}

// ServedBy is what a card has: less while it shows nothing of its unit.
func ServedBy(c *snap.Card) []*Variable {
	if c.UnitLost && c.UnitBlank {
		return blank[min(c.Settings.Conformance, snap.ConformSubset)]
	}
	return Served(c.Settings.Conformance)
}

// blank is what is left of served where nothing is known of the unit.
var blank = func() (lists [snap.Conformances][]*Variable) {
	for level := range lists {
		for _, x := range served[level] {
			if !x.ofUnit() {
				lists[level] = append(lists[level], x)
			}
		}
	}
	return lists
}()

// ofUnit says whether only the unit can tell the variable's value.
func (x *Variable) ofUnit() bool {
	switch x.Group {
	case GroupBattery, GroupInput, GroupOutput, GroupBypass, GroupTest, GroupControl, GroupConfig:
		return true
	case GroupIdent:
		return x.Access != ReadWrite // the names are the card's
	}
	return false
}

// In says whether a card of that level has the variable. RFC 1628 has levels;
// what is of other modules is always there.
func (x *Variable) In(level snap.Conformance) bool {
	if level == snap.ConformAll || !x.OID.HasPrefix(upsMIB) {
		return true
	}
	return x.Levels&[...]Level{snap.ConformFull: Full, snap.ConformBasic: Basic, snap.ConformSubset: Subset}[level] != 0
}

// All is every variable, in the order of object identifiers. Treat what it
// points to as constant.
func All() []*Variable { return slices.Clone(variables) }

// Find is the variable with the standard's name.
func Find(name string) (*Variable, bool) {
	x, ok := byName[name]
	return x, ok
}

// Lookup is Find for names written in the program: it panics where that fails.
func Lookup(name string) *Variable {
	x, ok := byName[name]
	if !ok {
		panic(fmt.Sprintf("model: no variable %q", name))
	}
	return x
}
