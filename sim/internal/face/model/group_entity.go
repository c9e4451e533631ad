package model

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// entity is a row of entPhysicalTable: a part of the unit, or of a probe.
type entity struct {
	index  uint32
	probe  int // of the part of a probe, counted from 0; else -1
	within uint32
	place  int64 // among the parts of the same whole; -1 of the whole itself
	class  int64
	descr  string
	name   string // "" of a part of a probe: see [View.entityName]
}

// Classes of RFC 6933 PhysicalClass that there are.
const (
	classChassis = 3
	classSupply  = 6
	classSensor  = 8
	classModule  = 9
	classPort    = 10
	classBattery = 14
)

// Indices of the parts that every unit has. Those of the n-th probe begin with
// n * ofProbe.
const (
	partUPS = iota + 1
	partPower
	partBattery
	partCard
	partPort
	partBatteryC // sensor of the battery's temperature

	ofProbe = 100
)

// fixed are the parts of every unit.
var fixed = [...]entity{
	{partUPS, -1, 0, -1, classChassis, "Uninterruptible power supply, SIMULATION", "ups"},
	{partPower, -1, partUPS, 1, classSupply, "Converters between input, battery and output", "power"},
	{partBattery, -1, partUPS, 2, classBattery, "Battery", "battery"},
	{partCard, -1, partUPS, 3, classModule, "Network card", "card"},
	{partPort, -1, partCard, 1, classPort, "Ethernet port", "port"},
	{partBatteryC, -1, partBattery, 1, classSensor, "Temperature of the battery", "battery temperature"},
}

// Parts of a probe: their index is that of the probe and one of these. Behind them
// come its contacts.
const (
	ofBody = iota
	ofTemperature
	ofHumidity
	ofContact
)

// probeParts is how many parts the probe-th probe has.
func probeParts(d *snap.Device, probe int) int {
	n := 2 + contactsOf(d, probe)
	if d.Probes.List[probe].HasHumidity {
		n++
	}
	return n
}

// contactsOf is how many contacts hang on the probe.
func contactsOf(d *snap.Device, probe int) int {
	if r := d.Outlets.Roster; r != nil && probe < len(r.Probes) {
		return r.Probes[probe].Contacts
	}
	return 0
}

// probePart is the n-th part of a probe, counted from 0.
func probePart(d *snap.Device, probe, n int) entity {
	of := n
	if n >= ofHumidity && !d.Probes.List[probe].HasHumidity {
		of++
	}
	whole := uint32(probe+1) * ofProbe
	e := entity{index: whole + uint32(of), probe: probe, within: whole, place: int64(n), class: classSensor}
	switch of {
	case ofBody:
		e.within, e.place, e.class, e.descr = partCard, int64(probe)+2, classModule, "Environmental probe" // behind the port
	case ofTemperature:
		e.descr = "Temperature at the probe"
	case ofHumidity:
		e.descr = "Relative humidity at the probe"
	default:
		e.descr = "Dry contact at the probe"
	}
	return e
}

// of tells which part of a probe e is.
func (e entity) of() int { return int(e.index % ofProbe) }

// contact is the number of the contact that e is, counted from 0 over all probes.
func (e entity) contact(d *snap.Device) int {
	return d.Outlets.Roster.Probes[e.probe].FirstContact + e.of() - ofContact
}

func probeCount(d *snap.Device) int { return min(max(d.Probes.Count, 0), snap.MaxProbes) }

func entityRows(d *snap.Device) int {
	n := len(fixed)
	for i := range probeCount(d) {
		n += probeParts(d, i)
	}
	return n
}

// entityAt is a row of entPhysicalTable, counted from 0.
func entityAt(d *snap.Device, row int) entity {
	if row < len(fixed) {
		return fixed[row]
	}
	row -= len(fixed)
	probe := 0
	for ; row >= probeParts(d, probe); probe++ {
		row -= probeParts(d, probe)
	}
	return probePart(d, probe, row)
}

func entityIndex(d *snap.Device, row int) uint32 { return entityAt(d, row).index }

// entityName is entPhysicalName.
func (v *View) entityName(e entity) string {
	if e.probe < 0 {
		return e.name
	}
	switch roster := v.Dev.Outlets.Roster; {
	case e.of() == ofBody || roster == nil || e.probe >= len(roster.Probes):
		return v.Dev.Probes.List[e.probe].Name
	case e.of() == ofTemperature:
		return roster.Probes[e.probe].Temperature
	case e.of() == ofHumidity:
		return roster.Probes[e.probe].Humidity
	default:
		return roster.Contacts[e.contact(v.Dev)].Name
	}
}

// entityGroup is entPhysicalTable and entLastChangeTime of ENTITY-MIB (RFC 6933).
// What can be written there can be read here, which its compliance statements
// allow.
var entityGroup = []Variable{
	{
		Name: "entPhysicalIndex", Label: "Part", OID: entityTable.column(1), Syntax: physicalIndex, Access: NotAccessible, Table: entityTable,
		Description: "Number of a part: 1 the UPS, 2 its converters, 3 the battery, 4 the card, 5 its port, 6 the sensor at the battery; " +
			"the n-th probe is n * 100, its temperature, humidity and contacts are 1, 2 and 3 on.",
		count: func(v *View, row int) int64 { return int64(entityIndex(v.Dev, row)) },
	},
	entityText(2, "entPhysicalDescr", "Part description", adminString(255), "The part in words.",
		func(_ *View, e entity) string { return e.descr }),
	{
		Name: "entPhysicalVendorType", Label: "Part type", OID: entityTable.column(3), Syntax: autonomous, Table: entityTable,
		Description: "Type of the part: that of the card is known, the others are 0.0.",
		read: func(v *View, row int) Value {
			if entityIndex(v.Dev, row) == partCard {
				return Value{OID: cardObject}
			}
			return Value{OID: zeroDotZero}
		},
	},
	entityNumber(4, "entPhysicalContainedIn", "Part within", physicalIndexOrZero, "The part that holds this one; 0 of the UPS, which holds all.",
		func(e entity) int64 { return int64(e.within) }),
	entityNumber(5, "entPhysicalClass", "Part class", physicalClass, "Kind of the part.",
		func(e entity) int64 { return e.class }),
	entityNumber(6, "entPhysicalParentRelPos", "Part place", integer32From(-1),
		"Place among the parts of the same whole; -1 of the UPS.",
		func(e entity) int64 { return e.place }),
	entityText(7, "entPhysicalName", "Part name", adminString(255), "Name of the part; of a probe that which its keeper gave.",
		func(v *View, e entity) string { return v.entityName(e) }),
	entityText(8, "entPhysicalHardwareRev", "Part hardware", adminString(255), "Not known of any part.",
		func(*View, entity) string { return "" }),
	entityText(9, "entPhysicalFirmwareRev", "Part firmware", adminString(255), "Firmware of the UPS and of the card.",
		func(v *View, e entity) string {
			return byPart(e, v.Dev.UPS.Firmware, v.Dev.Card.Identity.Firmware)
		}),
	entityText(10, "entPhysicalSoftwareRev", "Part software", adminString(255), "Not known of any part.",
		func(*View, entity) string { return "" }),
	entityText(11, "entPhysicalSerialNum", "Part serial number", adminString(32), "Serial number of the card; id of a probe.",
		func(v *View, e entity) string {
			if e.probe >= 0 && e.of() == ofBody && e.probe < probeRows(v.Dev) {
				return v.probeSetting(e.probe).ID
			}
			return byPart(e, "", v.Dev.Card.Identity.SerialNumber)
		}),
	entityText(12, "entPhysicalMfgName", "Part manufacturer", adminString(255), "Who made the UPS.",
		func(v *View, e entity) string { return byPart(e, v.Dev.UPS.Manufacturer, "") }),
	entityText(13, "entPhysicalModelName", "Part model", adminString(255), "Model of the UPS and of the card.",
		func(v *View, e entity) string { return byPart(e, v.Dev.UPS.Model, v.Dev.Card.Identity.Model) }),
	entityText(14, "entPhysicalAlias", "Part alias", adminString(32), "Name that the keeper of the UPS gave it.",
		func(v *View, e entity) string {
			return byPart(e, v.Dev.Card.Settings.UPSName, v.Dev.Card.Settings.Name)
		}),
	entityText(15, "entPhysicalAssetID", "Part inventory number", adminString(32), "Not known of any part.",
		func(*View, entity) string { return "" }),
	entityNumber(16, "entPhysicalIsFRU", "Part can be replaced", truthValue, "Whether the part can be replaced in the field: battery, card and probes can.",
		func(e entity) int64 {
			return truth(e.index == partBattery || e.index == partCard || e.index%ofProbe == 0).Int
		}),
	entityText(17, "entPhysicalMfgDate", "Part made", dateAndTime, "Not known of any part: eight zero octets.",
		func(*View, entity) string { return "\x00\x00\x00\x00\x00\x00\x00\x00" }),
	entityText(18, "entPhysicalUris", "Part identifiers", octets(255), "Not known of any part.",
		func(*View, entity) string { return "" }),
	entityText(19, "entPhysicalUUID", "Part UUID", uuidOrZero, "Not known of any part.",
		func(*View, entity) string { return "" }),
	{
		Name: "entLastChangeTime", Label: "Parts changed", OID: ber.OID{1, 3, 6, 1, 2, 1, 47, 1, 4, 1}, Syntax: timeStamp,
		Description: "Up time at the last change to the table of parts: when the card was told of other probes or contacts; 0 if that was " +
			"before the agent started. A probe whose cable is out stays in the table, and its sensors say so.",
		count: func(v *View, _ int) int64 { return ticks(v.Dev.Card.Runs(v.Dev.Probes.Changed)) },
	},
}

// byPart is a text of the UPS, or of the card; other parts have none.
func byPart(e entity, ups, card string) string {
	switch e.index {
	case partUPS:
		return ups
	case partCard:
		return card
	}
	return ""
}

func entityText(column uint32, name, label string, syntax Syntax, description string, read func(*View, entity) string) Variable {
	return Variable{
		Name: name, Label: label, OID: entityTable.column(column), Syntax: syntax, Table: entityTable, Description: description,
		read: func(v *View, row int) Value { return text(read(v, entityAt(v.Dev, row))) },
	}
}

func entityNumber(column uint32, name, label string, syntax Syntax, description string, read func(entity) int64) Variable {
	return Variable{
		Name: name, Label: label, OID: entityTable.column(column), Syntax: syntax, Table: entityTable, Description: description,
		count: func(v *View, row int) int64 { return read(entityAt(v.Dev, row)) },
	}
}
