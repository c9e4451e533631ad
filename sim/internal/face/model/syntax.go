package model

import (
	"fmt"
	"strings"

	"ridethrough/sim/internal/face/ber"
)

// Syntax is what the values of a variable are like.
type Syntax struct {
	// Name is the type or textual convention as a MIB module writes it.
	Name string
	Tag  ber.Tag // how it is encoded
	// Min and Max bound a number's value or a string's length in octets.
	Min, Max int64
	Enums    []Enum // the only values of an enumerated INTEGER, rising
	bounded  bool   // the bounds are written behind the name
	binary   bool   // octets that are no text
}

// Enum is one value of an enumerated INTEGER.
type Enum struct {
	Number int64
	Name   string // the standard's label
	Word   string // for people
}

// String is s as a MIB module writes it.
func (s Syntax) String() string {
	switch {
	case len(s.Enums) > 0:
		labels := make([]string, len(s.Enums))
		for i, e := range s.Enums {
			labels[i] = fmt.Sprintf("%s(%d)", e.Name, e.Number)
		}
		return s.Name + " { " + strings.Join(labels, ", ") + " }"
	case s.bounded && s.Tag == ber.OctetString:
		return fmt.Sprintf("%s (SIZE (%d..%d))", s.Name, s.Min, s.Max)
	case s.bounded:
		return fmt.Sprintf("%s (%d..%d)", s.Name, s.Min, s.Max)
	}
	return s.Name
}

// Enum is the enumerated value n.
func (s Syntax) Enum(n int64) (Enum, bool) {
	for _, e := range s.Enums {
		if e.Number == n {
			return e, true
		}
	}
	return Enum{}, false
}

const (
	maxInt32  = 1<<31 - 1
	minInt32  = -1 << 31
	maxUint32 = 1<<32 - 1
)

// Types and textual conventions: RFC 2578, RFC 2579, RFC 1628.
var (
	integer32   = Syntax{Name: "Integer32", Tag: ber.Integer, Min: minInt32, Max: maxInt32}
	nonNegative = Syntax{Name: "NonNegativeInteger", Tag: ber.Integer, Max: maxInt32}
	positive    = Syntax{Name: "PositiveInteger", Tag: ber.Integer, Min: 1, Max: maxInt32}
	testAndIncr = Syntax{Name: "TestAndIncr", Tag: ber.Integer, Max: maxInt32}
	interval    = Syntax{Name: "TimeInterval", Tag: ber.Integer, Max: maxInt32}
	counter32   = Syntax{Name: "Counter32", Tag: ber.Counter32, Max: maxUint32}
	gauge32     = Syntax{Name: "Gauge32", Tag: ber.Gauge32, Max: maxUint32}
	timeTicks   = Syntax{Name: "TimeTicks", Tag: ber.TimeTicks, Max: maxUint32}
	timeStamp   = Syntax{Name: "TimeStamp", Tag: ber.TimeTicks, Max: maxUint32}
	objectID    = Syntax{Name: "OBJECT IDENTIFIER", Tag: ber.ObjectID}
	autonomous  = Syntax{Name: "AutonomousType", Tag: ber.ObjectID}
	engineID    = Syntax{Name: "SnmpEngineID", Tag: ber.OctetString, Min: 5, Max: 32, binary: true}
	physAddress = Syntax{Name: "PhysAddress", Tag: ber.OctetString, Max: 6, binary: true}
	ifIndex     = Syntax{Name: "InterfaceIndex", Tag: ber.Integer, Min: 1, Max: maxInt32}
)

// integer is an INTEGER with the bounds written out.
func integer(low, high int64) Syntax {
	return Syntax{Name: "INTEGER", Tag: ber.Integer, Min: low, Max: high, bounded: true}
}

// display is a DisplayString of at most size octets.
func display(size int64) Syntax {
	return Syntax{Name: "DisplayString", Tag: ber.OctetString, Max: size, bounded: true}
}

// unsigned32 is of RFC 2578, and looks on the wire as a Gauge32.
var unsigned32 = Syntax{Name: "Unsigned32", Tag: ber.Gauge32, Max: maxUint32}

// Textual conventions of RFC 2579, RFC 3411, RFC 6933 and RFC 3433.
var (
	truthValue          = named("TruthValue", "true", "yes", "false", "no")
	physicalIndex       = Syntax{Name: "PhysicalIndex", Tag: ber.Integer, Min: 1, Max: maxInt32}
	physicalIndexOrZero = Syntax{Name: "PhysicalIndexOrZero", Tag: ber.Integer, Max: maxInt32}
	dateAndTime         = Syntax{Name: "DateAndTime", Tag: ber.OctetString, Min: 8, Max: 11, binary: true}
	uuidOrZero          = Syntax{Name: "UUIDorZero", Tag: ber.OctetString, Max: 16, binary: true}

	physicalClass = named("PhysicalClass", "other", "other", "unknown", "unknown", "chassis", "chassis", "backplane", "backplane",
		"container", "container", "powerSupply", "power supply", "fan", "fan", "sensor", "sensor", "module", "module", "port", "port",
		"stack", "stack", "cpu", "processor", "energyObject", "energy object", "battery", "battery", "storageDrive", "storage drive")
	sensorType = named("EntitySensorDataType", "other", "other", "unknown", "unknown", "voltsAC", "V AC", "voltsDC", "V DC",
		"amperes", "A", "watts", "W", "hertz", "Hz", "celsius", "temperature", "percentRH", "humidity", "rpm", "revolutions",
		"cmm", "air flow", "truthvalue", "contact")
	sensorScale = named("EntitySensorDataScale", "yocto", "10^-24", "zepto", "10^-21", "atto", "10^-18", "femto", "10^-15",
		"pico", "10^-12", "nano", "10^-9", "micro", "10^-6", "milli", "10^-3", "units", "1", "kilo", "10^3", "mega", "10^6",
		"giga", "10^9", "tera", "10^12", "exa", "10^15", "peta", "10^18", "zetta", "10^21", "yotta", "10^24")
	sensorStatus = named("EntitySensorStatus", "ok", "ok", "unavailable", "unavailable", "nonoperational", "broken")
)

// adminString is an SnmpAdminString of at most size octets.
func adminString(size int64) Syntax {
	return Syntax{Name: "SnmpAdminString", Tag: ber.OctetString, Max: size, bounded: true}
}

// octets is an OCTET STRING of at most size octets that is no text.
func octets(size int64) Syntax {
	return Syntax{Name: "OCTET STRING", Tag: ber.OctetString, Max: size, bounded: true, binary: true}
}

// integerNamed is an Integer32 with the bounds written out.
func integerNamed(low, high int64) Syntax {
	return Syntax{Name: "Integer32", Tag: ber.Integer, Min: low, Max: high, bounded: true}
}

// integer32From is an Integer32 with a least value.
func integer32From(low int64) Syntax { return integerNamed(low, maxInt32) }

// smallIndex is the index of a table of at most size rows.
func smallIndex(size int64) Syntax { return integerNamed(1, size) }

// named is an enumeration that is a textual convention.
func named(name string, names ...string) Syntax {
	s := enum(names...)
	s.Name = name
	return s
}

// enum is an enumerated INTEGER counting from 1, given as label and word by turns.
func enum(names ...string) Syntax {
	s := Syntax{Name: "INTEGER", Tag: ber.Integer, Min: 1, Max: int64(len(names) / 2)}
	for i := 0; i+1 < len(names); i += 2 {
		s.Enums = append(s.Enums, Enum{Number: int64(i/2 + 1), Name: names[i], Word: names[i+1]})
	}
	return s
}
