package model

import (
	"sync/atomic"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
)

// Acts is a set of kinds of quirks, those that acted.
type Acts uint64

// Add puts k into the set; 0 is none.
func (a *Acts) Add(k snap.QuirkKind) { *a |= 1 << k &^ 1 }

// Has says whether k is in the set.
func (a Acts) Has(k snap.QuirkKind) bool { return a>>k&1 == 1 }

var _ = Acts(1) << (snap.QuirkKinds - 1) // there is a bit for every kind

// Dice throws for quirks, for each kind in a row of its own. It is safe for
// concurrent use; its zero value is ready.
type Dice struct {
	thrown [snap.QuirkKinds]atomic.Uint64
}

// Throw is the next throw for that kind, at least 0 and below 1. The n-th is always
// the same for one card and seed.
func (d *Dice) Throw(q *snap.Quirks, k snap.QuirkKind) float64 {
	return q.Draw(k, d.thrown[k].Add(1))
}

// Hits throws for a quirk that touches some of the messages only, and says whether
// this is one. Without the quirk it is none, and nothing is thrown.
func (d *Dice) Hits(q *snap.Quirks, k snap.QuirkKind) bool {
	one := q.Of(k)
	return one != nil && (one.Percent >= 100 || d.Throw(q, k)*100 < one.Percent)
}

// Lacks says whether the card does not have the object at all.
func (x *Variable) Lacks(v *View) bool {
	if v.Quirks == nil {
		return false
	}
	k := v.Quirks.Lacks(x.Name, &v.Dev.Card, v.Now)
	v.Acted.Add(k)
	return k != 0
}

// behind is the view of the state from which a quirky card reads x, and which quirk
// has it so, 0 for the present state. What is read there is as it was.
func (x *Variable) behind(v *View) (past View, by snap.QuirkKind) {
	past = *v
	past.Quirks = nil
	past.Dev, past.Now, by = v.Quirks.From(x.Name, v.Dev, v.Now)
	return past, by
}

// present is v without quirks.
func (v *View) present() View {
	now := *v
	now.Quirks = nil
	return now
}

func (x *Variable) oddRows(v *View) int {
	if x.Lacks(v) {
		return 0
	}
	past, by := x.behind(v)
	n := x.Rows(&past)
	if now := v.present(); by != 0 && x.Rows(&now) != n {
		v.Acted.Add(by)
	}
	switch x.Table {
	case alarmTable:
		return x.padded(v, n, snap.QuirkPaddedAlarms)
	case inputTable, outputTable, bypassTable:
		return x.padded(v, n, snap.QuirkZeroPhaseRows)
	}
	return n
}

// padded is how many rows a table of the unit has in place of n.
func (x *Variable) padded(v *View, n int, by snap.QuirkKind) int {
	if v.Quirks.HalfAwake(&v.Dev.Card, v.Now) {
		v.Acted.Add(snap.QuirkHalfAwake)
		return 0
	}
	one := v.Quirks.Of(by)
	if one == nil || one.Count <= n || n == 0 && x.Table != alarmTable {
		return n
	}
	v.Acted.Add(by)
	return one.Count
}

// oddInstance numbers rows that only a quirk has behind the others.
func (x *Variable) oddInstance(v *View, row int) uint32 {
	past, _ := x.behind(v)
	n := x.Rows(&past)
	if row < n {
		return x.Instance(&past, row)
	}
	last := uint32(0)
	if n > 0 {
		last = x.Instance(&past, n-1)
	}
	return last + uint32(row-n) + 1
}

func (x *Variable) oddAt(v *View, row int) Value {
	past, by := x.behind(v)
	if row >= x.Rows(&past) {
		return Value{OID: zeroDotZero}
	}
	if n, unread := v.Quirks.Unread(x.Name, &v.Dev.Card, v.Now); unread {
		v.Acted.Add(snap.QuirkHalfAwake)
		return Value{Int: n}
	}
	value := x.At(&past, row)
	if now := v.present(); by != 0 && !value.same(x.At(&now, row)) {
		v.Acted.Add(by)
	}
	switch x.Name {
	case "sysUpTime":
		value.Int = v.oddUpTime(value.Int)
	case "upsAlarmTime", "upsTestStartTime":
		if value.Int != 0 { // not before the agent
			value.Int = v.Quirks.UpTime(&v.Dev.Card, value.Int)
		}
		value.Int = x.oddNumber(v, value.Int, past.Dev)
	case "snmpEngineID", "snmpEngineBoots", "snmpEngineTime":
		value.Int = v.oddEngine(x.Name, value.Int)
	case "entPhySensorValue", "rtProbeTemperature":
		value.Int = x.oddTemperature(v, row, x.oddNumber(v, value.Int, past.Dev), past.Dev)
	default:
		value.Int = x.oddNumber(v, value.Int, past.Dev)
	}
	return value
}

// same says whether two values of one variable are the same.
func (a Value) same(b Value) bool { return a.Int == b.Int && a.Text == b.Text && a.OID.Equal(b.OID) }

// oddNumber is what quirks make of the number n, as far as it can be encoded.
func (x *Variable) oddNumber(v *View, n int64, dev *snap.Device) int64 {
	n, by := v.Quirks.Number(x.Name, n, x.top(), dev)
	v.Acted.Add(by)
	if by != 0 && x.Syntax.Tag != ber.Integer {
		n = max(n, 0)
	}
	return n
}

// oddTemperature is n tenths of a degree Celsius that a probe reads, or as many of
// Fahrenheit if a quirk has it so. Other sensors stay as they are.
func (x *Variable) oddTemperature(v *View, row int, n int64, dev *snap.Device) int64 {
	if v.Quirks.Of(snap.QuirkFahrenheit) == nil {
		return n
	}
	if x.Table == sensorTable {
		if s := sensorAt(dev, row); s.probe < 0 || s.humid() || s.closes() {
			return n
		}
	}
	v.Acted.Add(snap.QuirkFahrenheit)
	return tenths(snap.Fahrenheit.Of(float64(n) / 10))
}

// oddEngine is what the card says of its SNMP engine; its identifier and its time are
// odd already.
func (v *View) oddEngine(name string, n int64) int64 {
	kind := map[string]snap.QuirkKind{
		"snmpEngineID": snap.QuirkSharedEngineID, "snmpEngineBoots": snap.QuirkBootsNotKept, "snmpEngineTime": snap.QuirkEngineTimeStuck,
	}[name]
	if v.Quirks.Of(kind) != nil {
		v.Acted.Add(kind)
	}
	if kind == snap.QuirkBootsNotKept {
		return int64(Boots(&v.Dev.Card))
	}
	return n
}

// Boots is how often the card says that its agent has started.
func Boots(c *snap.Card) uint32 {
	if c.Quirks.Of(snap.QuirkBootsNotKept) != nil {
		return 1
	}
	return c.Boots
}

// copied is what stands in place of the serial number in the engine identifier of
// cards whose settings were copied from one to the other.
const copied = "COPIED-SETTINGS"

// EngineName is what the card makes its engine identifier of.
func EngineName(c *snap.Card) string {
	if c.Quirks.Of(snap.QuirkSharedEngineID) != nil {
		return copied
	}
	if c.OtherEngine() {
		return c.Identity.SerialNumber + "/" + c.Identity.Firmware
	}
	return c.Identity.SerialNumber
}

// top is the highest code of an enumeration, 0 for what is none.
func (x *Variable) top() int64 {
	if len(x.Syntax.Enums) == 0 {
		return 0
	}
	return x.Syntax.Max
}

// oddUpTime is sysUpTime n, near its wrap or earlier if a throw has it so.
func (v *View) oddUpTime(n int64) int64 {
	n = v.Quirks.UpTime(&v.Dev.Card, n)
	if v.Quirks.Of(snap.QuirkUptimeNearWrap) != nil {
		v.Acted.Add(snap.QuirkUptimeNearWrap)
	}
	one := v.Quirks.Of(snap.QuirkUptimeStepsBack)
	if one == nil || v.Dice == nil || !v.Dice.Hits(v.Quirks, one.Kind) {
		return n
	}
	v.Acted.Add(one.Kind)
	by := 1 + int64(v.Dice.Throw(v.Quirks, one.Kind)*float64(one.Lasts.Hundredths()))
	return max(n-by, 0)
}
