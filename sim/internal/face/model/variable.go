package model

import (
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
)

// Group is the part of the standard that a variable belongs to.
type Group string

// Groups, in the order of their object identifiers.
const (
	GroupSystem  Group = "system"
	GroupPort    Group = "interfaces"
	GroupSNMP    Group = "snmp"
	GroupIdent   Group = "ident"
	GroupBattery Group = "battery"
	GroupInput   Group = "input"
	GroupOutput  Group = "output"
	GroupBypass  Group = "bypass"
	GroupAlarm   Group = "alarm"
	GroupTest    Group = "test"
	GroupControl Group = "control"
	GroupConfig  Group = "config"
	GroupEntity  Group = "entity"
	GroupSensor  Group = "sensors"
	GroupOutlets Group = "outlet groups"
	GroupHosts   Group = "hosts"
	GroupProbes  Group = "probes"
	GroupContact Group = "contacts"
	GroupEnergy  Group = "energy"
	GroupRelay   Group = "relays"
	GroupSet     Group = "set"
	GroupEngine  Group = "engine"
	GroupMPD     Group = "mpd"
	GroupTarget  Group = "target"
	GroupUSM     Group = "usm"
)

// Access is what a manager may do with a variable.
type Access uint8

// Kinds of access.
const (
	ReadOnly Access = iota
	ReadWrite
	NotAccessible // an index: only ever sent in notifications
)

// String is the MAX-ACCESS clause.
func (a Access) String() string {
	return [...]string{"read-only", "read-write", "not-accessible"}[a]
}

// Level is a set of RFC 1628's conformance levels.
type Level uint8

// Conformance levels. A variable of none may be missing on a unit that conforms
// fully.
const (
	Subset Level = 1 << iota // two-contact units
	Basic
	Full
)

// Rounding says how a measurement becomes a whole number of steps.
type Rounding uint8

// Roundings.
const (
	Nearest Rounding = iota // halves away from zero
	Down
)

// Variable is one row of the table: a scalar, or a column of a [Table].
type Variable struct {
	Name        string // the standard's
	Label       string // for people
	Group       Group
	OID         ber.OID // without the instance
	Syntax      Syntax
	Units       string // the standard's UNITS clause
	Symbol      string // unit for people, of the value without its decimals
	Decimals    int    // the number carries this many decimal places of Symbol
	Rounding    Rounding
	Access      Access
	Levels      Level
	Description string
	Table       *Table // nil for a scalar

	// One of these gives the value: measure a quantity in Symbol, still to be
	// rounded, count a whole number, read anything.
	measure func(v *View, row int) float64
	count   func(v *View, row int) int64
	read    func(v *View, row int) Value
	say     func(n int64) string // text for numbers that mean more than they say

	head []byte // the identifier, encoded

	recorded *recorded // nil: the value follows from the device
}

// AppendName appends the encoded name of an instance. The identifier is encoded
// once and for all: in a long reply that would be half of the work.
func (x *Variable) AppendName(out []byte, instance uint32) []byte {
	return ber.AppendChild(out, x.head, instance)
}

// Value is a variable's value: Int, Text or OID, as the syntax's tag tells.
type Value struct {
	Int  int64
	Text string
	OID  ber.OID
}

// View is what values are read from: one published state, the present time, and
// the agent's counters, which may be nil. It keeps what it has composed, so use
// one again by assigning its fields.
type View struct {
	Dev      *snap.Device
	Now      vtime.Tick // never before Dev.Tick
	Counters *Counters
	Engine   *Engine // nil: as it would be with the default options

	// Quirks make values other than they are; nil: none do. Dice throws for those
	// that depend on chance; nil: those do nothing. Acted has what they did.
	Quirks *snap.Quirks
	Dice   *Dice
	Acted  Acts

	descrOf snap.Identity
	descr   string
	idOf    string // name that it is made of
	id      string
	hwOf    string
	hw      string
}

// Engine is what the SNMP engine alone knows of itself.
type Engine struct {
	Time    int64 // snmpEngineTime in seconds
	MaxSize int   // greatest message in octets
}

// Rows is the number of instances: 1 for a scalar.
func (x *Variable) Rows(v *View) int {
	if v.Quirks != nil {
		return x.oddRows(v)
	}
	if x.Table == nil {
		return 1
	}
	return x.Table.rows(v.Dev)
}

// Instance is the sub-identifier that names the row-th instance: 0 for a scalar,
// and rising with row.
func (x *Variable) Instance(v *View, row int) uint32 {
	if x.Table == nil {
		return 0
	}
	if v.Quirks != nil {
		return x.oddInstance(v, row)
	}
	return x.Table.index(v.Dev, row)
}

// At is the value of the row-th instance, within the bounds of its syntax.
func (x *Variable) At(v *View, row int) Value {
	if v.Quirks != nil {
		return x.oddAt(v, row)
	}
	if n, ok := x.whole(v, row); ok {
		return Value{Int: n}
	}
	value := x.read(v, row)
	switch x.Syntax.Tag {
	case ber.ObjectID:
	case ber.OctetString:
		if !x.Syntax.binary {
			value.Text = printable(value.Text, int(x.Syntax.Max))
		}
	default:
		value.Int = min(max(value.Int, x.Syntax.Min), x.Syntax.Max)
	}
	return value
}

// whole is the value of a variable that is measured or counted.
func (x *Variable) whole(v *View, row int) (n int64, ok bool) {
	switch {
	case x.measure != nil:
		return x.steps(x.measure(v, row)), true
	case x.count != nil:
		return min(max(x.count(v, row), x.Syntax.Min), x.Syntax.Max), true
	}
	return 0, false
}

// AppendValue appends the value that At has for the row-th instance, encoded. To
// carry a whole number through a Value costs more than all the rest.
func (x *Variable) AppendValue(out []byte, v *View, row int) []byte {
	if x.recorded != nil {
		return append(out, x.recorded.values[row]...)
	}
	if v.Quirks == nil {
		if n, ok := x.whole(v, row); ok {
			return ber.AppendInt(out, x.Syntax.Tag, n)
		}
	}
	return x.Append(out, x.At(v, row))
}

// Append appends value as the variable encodes it.
func (x *Variable) Append(out []byte, value Value) []byte {
	switch tag := x.Syntax.Tag; tag {
	case ber.OctetString:
		return ber.AppendString(out, tag, value.Text)
	case ber.ObjectID:
		return ber.AppendOID(out, value.OID)
	default:
		return ber.AppendInt(out, tag, value.Int)
	}
}

// steps is the quantity q as a number of the variable's steps.
func (x *Variable) steps(q float64) int64 {
	for range x.Decimals {
		q *= 10
	}
	if x.Rounding == Down {
		q = math.Floor(q)
	} else {
		q = math.Round(q)
	}
	// Compare before converting: what overflows converts differently on
	// different machines. Not a number is shown as 0 if that is allowed.
	switch {
	case math.IsNaN(q):
		return min(max(0, x.Syntax.Min), x.Syntax.Max)
	case q <= float64(x.Syntax.Min):
		return x.Syntax.Min
	case q >= float64(x.Syntax.Max):
		return x.Syntax.Max
	}
	return int64(q)
}

// printable is s as a DisplayString of at most size octets.
func printable(s string, size int) string {
	if len(s) > size {
		s = s[:size]
	}
	if ascii(s) {
		return s
	}
	return mask(s)
}

// ascii says whether every octet of s is below 0x80. It looks at eight at a time.
func ascii(s string) bool {
	all := byte(0)
	for ; len(s) >= 8; s = s[8:] {
		all |= s[0] | s[1] | s[2] | s[3] | s[4] | s[5] | s[6] | s[7]
	}
	for i := range len(s) {
		all |= s[i]
	}
	return all < 0x80
}

func mask(s string) string {
	b := []byte(s)
	for i := range b {
		if b[i] >= 0x80 {
			b[i] = '?'
		}
	}
	return string(b)
}
