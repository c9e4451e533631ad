package sim_test

import (
	"fmt"

	"github.com/gosnmp/gosnmp"
)

// Checks of the SNMPv3 engine, as a correct manager makes them.

// engine is what a manager knows of the card's engine after one authentic exchange.
type engine struct {
	id          string
	boots, time uint32
}

// discover is a manager that meets the card for the first time.
func (c *card) discover() engine {
	c.t.Helper()
	g := c.snmp3()
	defer g.Conn.Close()
	if _, err := g.Get([]string{sysUpTime}); err != nil {
		c.t.Fatal(err)
	}
	sec := g.SecurityParameters.(*gosnmp.UsmSecurityParameters)
	return engine{fmt.Sprintf("%x", sec.AuthoritativeEngineID), sec.AuthoritativeEngineBoots, sec.AuthoritativeEngineTime}
}

// bootsRise: an engine whose time began anew has started once more (RFC 3414 section
// 2.2.2).
func (c *client) bootsRise() string {
	c.later(longRun)
	before := c.discover()
	c.restart()
	if after := c.discover(); after.time < before.time && after.boots != before.boots+1 {
		return fmt.Sprintf("boots %d, time %d after boots %d, time %d", after.boots, after.time, before.boots, before.time)
	}
	return ""
}

func (c *client) engineTimeRuns() string {
	before := c.discover()
	c.later(1000)
	if after := c.discover(); after.boots == before.boots && after.time < before.time+9 {
		return fmt.Sprintf("engine time %d, and %d ten seconds later", before.time, after.time)
	}
	return ""
}

func (c *client) enginesDiffer() string {
	if one, other := c.discover(), c.other.discover(); one.id == other.id {
		return "two cards have the engine ID " + one.id
	}
	return ""
}
