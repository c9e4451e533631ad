package sim_test

import (
	"fmt"
	"time"

	"github.com/gosnmp/gosnmp"
)

// Checks of values, as a correct client makes them.

const (
	sysUpTime        = ".1.3.6.1.2.1.1.3.0"
	engineBoots      = ".1.3.6.1.6.3.10.2.1.2.0"
	engineTime       = ".1.3.6.1.6.3.10.2.1.3.0"
	secondsOnBattery = ".1.3.6.1.2.1.33.1.2.2.0"
	minutesLeft      = ".1.3.6.1.2.1.33.1.2.3.0"
	chargeLeft       = ".1.3.6.1.2.1.33.1.2.4.0"
	inputLines       = ".1.3.6.1.2.1.33.1.3.2.0"
	inputBads        = ".1.3.6.1.2.1.33.1.3.1.0"
	inputVoltages    = ".1.3.6.1.2.1.33.1.3.3.1.3"
	outputVoltage    = ".1.3.6.1.2.1.33.1.4.4.1.2.1"
	alarmsPresent    = ".1.3.6.1.2.1.33.1.6.1.0"
	alarmDescr       = ".1.3.6.1.2.1.33.1.6.2.1.2"
	alarmTime        = ".1.3.6.1.2.1.33.1.6.2.1.3"
	ratedVoltage     = ".1.3.6.1.2.1.33.1.9.3.0"
	onBatteryAlarm   = ".1.3.6.1.2.1.33.1.6.3.2"
)

func (c *client) outputIsAsRated() string {
	got := c.get(outputVoltage, ratedVoltage)
	if got[0] < got[1]*8/10 || got[0] > got[1]*12/10 {
		return fmt.Sprintf("%d V where %d V is rated", got[0], got[1])
	}
	return ""
}

// runtimeIsPlausible knows what was measured when the unit was put into service.
func (c *client) runtimeIsPlausible() string {
	const measured = 24 * 60 // minutes: twelve strings for one small host
	if got := c.get(minutesLeft)[0]; got < 1 || got > 10*measured {
		return fmt.Sprintf("%d minutes", got)
	}
	return ""
}

func (c *client) timeOnBatteryFitsSource() string {
	if got := c.get(outputSource, secondsOnBattery); (got[0] == 5) != (got[1] > 0) {
		return fmt.Sprintf("%d s on battery with source %d", got[1], got[0])
	}
	return ""
}

// timeOnBatteryRuns compares the time on battery with the time stamp of the alarm, again
// and again: what is stale is right at some instants.
func (c *client) timeOnBatteryRuns() string {
	for range 6 {
		c.later(700)
		if wrong := c.timeOnBattery(); wrong != "" {
			return wrong
		}
	}
	return ""
}

func (c *client) timeOnBattery() string {
	stamp := int64(-1)
	descr, since := c.rows(alarmDescr), c.rows(alarmTime)
	for i, row := range descr {
		if row.Value == onBatteryAlarm {
			stamp = gosnmp.ToBigInt(since[i].Value).Int64()
		}
	}
	if stamp < 0 {
		return "no alarm"
	}
	got := c.get(secondsOnBattery, sysUpTime)
	if want := (got[1] - stamp) / 100; got[0] < want-2 || got[0] > want+2 {
		return fmt.Sprintf("%d s on battery, %d s by the alarm", got[0], want)
	}
	return ""
}

// later waits until the card's clock has advanced by so many hundredths.
func (c *client) later(hundredths int64) {
	c.t.Helper()
	begin := c.get(sysUpTime)[0]
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); {
		if c.get(sysUpTime)[0] >= begin+hundredths {
			return
		}
	}
	c.t.Fatal("the card's clock stands still")
}

// probeFitsItsLimits holds what the sensor of the probe reads, in degrees Celsius as its type
// says, against the card's own limit and state.
func (c *client) probeFitsItsLimits() string {
	const (
		sensorType    = ".1.3.6.1.2.1.99.1.1.1.1"
		sensorValue   = ".1.3.6.1.2.1.99.1.1.1.4"
		probeState    = ".1.3.6.1.4.1.32473.1.2.3.1.3.1"
		probeReading  = ".1.3.6.1.4.1.32473.1.2.3.1.5.1"
		probeCritical = ".1.3.6.1.4.1.32473.1.2.3.1.10.1"
	)
	got := c.get(probeState, probeReading, probeCritical)
	sensors, types := c.rows(sensorValue), c.rows(sensorType)
	probe, battery := sensors[1], sensors[0]
	if types[0].Value != 8 || types[1].Value != 8 {
		c.t.Fatalf("types %v and %v, both of them degrees Celsius", types[0].Value, types[1].Value)
	}
	if n := probe.Value.(int); got[0] == 1 && (got[1] > got[2] || int64(n) > got[2]) {
		return fmt.Sprintf("%d and %d tenths of a degree, the limit is %d, and the state is normal", got[1], n, got[2])
	}
	if n := battery.Value.(int); n > 400 {
		return fmt.Sprintf("the battery has %d tenths of a degree", n)
	}
	return ""
}

func (c *client) chargeIsThere() string {
	p, err := c.sure.Get([]string{chargeLeft})
	if err != nil || p.Variables[0].Type != gosnmp.Integer {
		return fmt.Sprintf("%v, %v", p.Variables, err)
	}
	return ""
}

func (c *client) asManyRowsAsLines() string {
	if rows, lines := len(c.rows(inputVoltages)), c.get(inputLines)[0]; int64(rows) != lines {
		return fmt.Sprintf("%d rows for %d lines", rows, lines)
	}
	return ""
}

func (c *client) asManyRowsAsAlarms() string {
	rows, present := c.rows(alarmDescr), c.get(alarmsPresent)[0]
	if int64(len(rows)) != present {
		return fmt.Sprintf("%d rows for %d alarms, the last %v", len(rows), present, rows[len(rows)-1].Value)
	}
	return ""
}

func (c *client) sourceFitsAlarms() string {
	listed := false
	for _, row := range c.rows(alarmDescr) {
		listed = listed || row.Value == onBatteryAlarm
	}
	if source := c.get(outputSource)[0]; (source == 5) != listed {
		return fmt.Sprintf("source %d, alarm listed: %v", source, listed)
	}
	return ""
}

func (c *client) sourceIsKnown() string {
	if got := c.get(outputSource)[0]; got < 1 || got > 7 {
		return fmt.Sprintf("output source %d", got)
	}
	return ""
}

// upTimeFitsEngine compares two clocks of the card, in the same answer, over some
// time.
func (c *client) upTimeFitsEngine() string {
	begin := c.get(engineBoots)[0]
	for range 40 {
		got := c.get(sysUpTime, engineTime, engineBoots)
		if apart := got[0]/100 - got[1]; got[2] == begin && (apart < -2 || apart > 2) {
			return fmt.Sprintf("up for %d s, engine time %d s, no restart", got[0]/100, got[1])
		}
	}
	c.later(500)
	if got := c.get(sysUpTime, engineTime); got[0]/100-got[1] > 2 {
		return fmt.Sprintf("up for %d s, engine time %d s", got[0]/100, got[1])
	}
	return ""
}

// longRun is for how many hundredths a card has run before it is restarted: its time since
// the start is less then, also where a busy machine asks late.
const longRun = 12_000

// restart has the card start anew, and waits until it answers.
func (c *client) restart() {
	c.t.Helper()
	before := c.get(sysUpTime)[0]
	c.must(`card = "restart"`)
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); {
		if p, err := c.poll.Get([]string{sysUpTime}); err == nil && gosnmp.ToBigInt(p.Variables[0].Value).Int64() < before {
			return
		}
	}
	c.t.Fatal("the card does not come back")
}

func (c *client) knowsItsUnitAfterRestart() string {
	c.later(longRun)
	c.restart()
	if got := c.get(inputLines, outputSource); got[0] == 0 || got[1] == 1 {
		return fmt.Sprintf("%d lines, output source %d", got[0], got[1])
	}
	return ""
}

// failuresGoOn counts failures of the input over a start of the card.
func (c *client) failuresGoOn() string {
	c.later(longRun)
	c.source(true)
	c.source(false)
	before := c.get(inputBads, sysUpTime)
	c.restart()
	if now := c.get(inputBads, sysUpTime); now[0] < before[0] && now[1] < before[1] {
		return fmt.Sprintf("%d failures of the input, then %d, and the card has started in between", before[0], now[0])
	}
	return ""
}
