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

// enum is an enumerated INTEGER counting from 1, given as label and word by turns.
func enum(names ...string) Syntax {
	s := Syntax{Name: "INTEGER", Tag: ber.Integer, Min: 1, Max: int64(len(names) / 2)}
	for i := 0; i+1 < len(names); i += 2 {
		s.Enums = append(s.Enums, Enum{Number: int64(i/2 + 1), Name: names[i], Word: names[i+1]})
	}
	return s
}
