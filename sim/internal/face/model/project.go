package model

import (
	"encoding/hex"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/usm"
)

// Short forms in which the table's projections are written.

func number(n int64) Value { return Value{Int: n} }

func text(s string) Value { return Value{Text: s} }

// truth is 1 for yes and 2 for no: upsAutoRestart, snmpEnableAuthenTraps.
func truth(yes bool) Value {
	if yes {
		return number(1)
	}
	return number(2)
}

// constant is a projection that never changes.
func constant(value Value) func(*View, int) Value {
	return func(*View, int) Value { return value }
}

// ticks is a span in TimeTicks, which wrap after 497 days.
func ticks(span vtime.Tick) int64 {
	return int64(uint32(max(span, 0).Hundredths()))
}

// upTime is sysUpTime.
func (v *View) upTime() int64 { return ticks(v.Dev.Card.Runs(v.Now)) }

// countdown is the seconds left until deadline, rounded up, or -1 if none runs.
func (v *View) countdown(deadline vtime.Tick) int64 {
	if deadline == vtime.Never {
		return -1
	}
	left := max(deadline-v.Now, 0)
	return (left + vtime.Second - 1).WholeSeconds()
}

// onBattery is the whole seconds since the transfer to battery.
func (v *View) onBattery() int64 {
	since := v.Dev.UPS.OnBatterySince
	if since == vtime.Never {
		return 0
	}
	return max(v.Now-since, 0).WholeSeconds()
}

// testStart is sysUpTime when the last test began.
func (v *View) testStart() int64 {
	t := &v.Dev.Test
	if t.ID <= snap.TestNone || t.Started < v.Dev.Card.StartedAt {
		return 0
	}
	return ticks(v.Dev.Card.Runs(t.Started))
}

// testElapsed is how long the last test took, or the running one so far, in
// hundredths of a second.
func (v *View) testElapsed() int64 {
	t := &v.Dev.Test
	if t.ID <= snap.TestNone {
		return 0
	}
	return max(min(t.Ended, v.Now)-t.Started, 0).Hundredths()
}

// alarmTime is sysUpTime when the row-th alarm was seen.
func (v *View) alarmTime(row int) int64 {
	a := &v.Dev.Alarms.Rows[row]
	if a.Before {
		return 0
	}
	return ticks(v.Dev.Card.Runs(a.Since))
}

// description is sysDescr, composed once for each identity.
func (v *View) description() string {
	if id := v.Dev.Card.Identity; v.descr == "" || v.descrOf != id {
		v.descrOf = id
		v.descr = "ridethrough SIMULATION of a UPS network card, model " + id.Model +
			", firmware " + id.Firmware + ", serial " + id.SerialNumber
	}
	return v.descr
}

// engine is what the engine knows of itself, or what it would.
func (v *View) engine() Engine {
	if v.Engine != nil {
		return *v.Engine
	}
	return Engine{Time: max(v.Dev.Card.Runs(v.Now), 0).WholeSeconds(), MaxSize: defaultMaxSize}
}

// engineID is snmpEngineID, made once for each name.
func (v *View) engineID() string {
	if name := EngineName(&v.Dev.Card); v.id == "" || v.idOf != name {
		v.idOf, v.id = name, usm.EngineID(name)
	}
	return v.id
}

// hardware is the octets of the hardware address, which the identity has as
// pairs of digits with colons; nothing if it is not such.
func (v *View) hardware() string {
	if address := v.Dev.Card.Identity.Hardware; v.hwOf != address {
		b, err := hex.DecodeString(strings.ReplaceAll(address, ":", ""))
		if err != nil {
			b = nil
		}
		v.hwOf, v.hw = address, string(b)
	}
	return v.hw
}
