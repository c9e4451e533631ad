package sim_test

import (
	"fmt"
	"strconv"
	"time"

	"github.com/gosnmp/gosnmp"
)

// Checks of notifications, as a correct receiver makes them.

const (
	notifiedOnBattery = ".1.3.6.1.2.1.33.2.1"
	notifiedAdded     = ".1.3.6.1.2.1.33.2.3"
	notifiedRemoved   = ".1.3.6.1.2.1.33.2.4"
	markerAlarm       = ".1.3.6.1.2.1.33.1.6.3.17" // a fuse
)

// received is what came to the receiver up to the marker, an alarm that is raised
// for this; datagrams on loopback keep their order.
func (c *client) received() (list []*gosnmp.SnmpPacket) {
	c.t.Helper()
	c.must(`alarm = { clear = "fuse_failure" }`)
	c.must(`alarm = { raise = "fuse_failure" }`)
	marker := c.alarmID(markerAlarm)
	buf := make([]byte, 4096)
	c.sink.SetReadDeadline(time.Now().Add(time.Minute))
	for {
		n, err := c.sink.Read(buf)
		if err != nil {
			c.t.Fatal(err)
		}
		p, err := (&gosnmp.GoSNMP{Version: gosnmp.Version2c}).UnmarshalTrap(buf[:n:n], false)
		if err != nil {
			c.t.Fatal(err)
		}
		buf = make([]byte, 4096) // the packet keeps parts of the old one
		list = append(list, p)
		if p.Variables[1].Value == notifiedAdded && p.Variables[2].Value == marker {
			return list
		}
	}
}

// alarmID is the number of the row that has the alarm.
func (c *client) alarmID(alarm string) int {
	c.t.Helper()
	for _, row := range c.rows(alarmDescr) {
		if row.Value == alarm {
			id, err := strconv.Atoi(row.Name[len(alarmDescr)+1:])
			if err != nil {
				c.t.Fatal(err)
			}
			return id
		}
	}
	c.t.Fatalf("no alarm %s", alarm)
	return 0
}

func count(list []*gosnmp.SnmpPacket, kind, alarm string) (n int) {
	for _, p := range list {
		if p.Variables[1].Value == kind && (alarm == "" || p.Variables[3].Value == alarm) {
			n++
		}
	}
	return n
}

const cardAddress = "192.0.2.10"

const fanAlarm = ".1.3.6.1.2.1.33.1.6.3.16"

func (c *client) onBatteryIsRepeated() string {
	c.source(false)
	c.received()
	c.source(true)
	c.later(13000)
	if n := count(c.received(), notifiedOnBattery, ""); n < 2 {
		return fmt.Sprintf("%d notifications in two minutes on battery", n)
	}
	return ""
}

func (c *client) alarmIsCleared() string {
	c.received()
	c.must(`alarm = { raise = "fan_failure" }`)
	c.later(1000)
	c.must(`alarm = { clear = "fan_failure" }`)
	list := c.received()
	if raised, cleared := count(list, notifiedAdded, fanAlarm), count(list, notifiedRemoved, fanAlarm); raised != 1 || cleared != 1 {
		return fmt.Sprintf("an alarm is raised %d times and cleared %d times", raised, cleared)
	}
	return ""
}

func (c *client) notificationNamesInstances() string {
	for _, p := range c.received() {
		for _, v := range p.Variables {
			if v.Name == alarmDescr {
				return v.Name + " is no instance"
			}
		}
	}
	return ""
}

func (c *client) oneNotificationEach() string {
	c.later(1000)
	c.received()
	c.later(1000)
	c.must(`alarm = { raise = "fan_failure" }`)
	list := c.received()
	c.must(`alarm = { clear = "fan_failure" }`)
	if n := count(list, notifiedAdded, fanAlarm); n != 1 {
		return fmt.Sprintf("one alarm, %d notifications", n)
	}
	return ""
}

// notificationsKeepApart has an alarm chatter, and looks how far apart notifications of one
// kind are by the card's own clock: five seconds by RFC 1628.
func (c *client) notificationsKeepApart() string {
	c.later(1000)
	c.received()
	c.later(1000)
	for range 10 {
		c.must(`alarm = { raise = "fan_failure" }`)
		c.must(`alarm = { clear = "fan_failure" }`)
	}
	last := map[any]uint32{}
	for _, p := range c.received() {
		kind, at := p.Variables[1].Value, p.Variables[0].Value.(uint32)
		if before, told := last[kind]; told && at-before < 500 {
			return fmt.Sprintf("two of %v within %d hundredths of a second", kind, at-before)
		}
		last[kind] = at
	}
	return ""
}

// trapNamesItsSender asks for a trap of SNMPv1, and looks whose it says that it is.
func (c *client) trapNamesItsSender() string {
	c.command("add alerts.receivers old to=198.51.100.22:162 version=v1 community=tell")
	defer c.command("remove alerts.receivers old")
	c.later(1000)
	c.must(`alarm = { clear = "fuse_failure" }`)
	c.later(1000)
	c.must(`alarm = { raise = "fuse_failure" }`)
	marker, buf := c.alarmID(markerAlarm), make([]byte, 4096)
	c.old.SetReadDeadline(time.Now().Add(time.Minute))
	for {
		n, err := c.old.Read(buf)
		if err != nil {
			c.t.Fatal(err)
		}
		p, err := (&gosnmp.GoSNMP{Version: gosnmp.Version1}).UnmarshalTrap(buf[:n:n], false)
		if err != nil {
			c.t.Fatal(err)
		}
		if p.SpecificTrap != 3 || p.Variables[0].Value != marker {
			continue
		}
		if p.AgentAddress != cardAddress {
			return "the trap of " + cardAddress + " says that it comes from " + p.AgentAddress
		}
		return ""
	}
}
