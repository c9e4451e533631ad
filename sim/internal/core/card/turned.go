package card

import (
	"cmp"
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// mostTurned bounds the sources of which the card tells one by one.
const mostTurned = 16

// turned is somebody whom the card does not answer.
type turned struct {
	subject, why string
	from         string     // "": others
	until        vtime.Tick // the minute's end
	more         int        // than the one that was told
}

// TurnAway is told of n requests for a service from an address that the access list
// does not let use it. The journal gets the first within a minute, and how many more
// there were at its end.
func (c *Card) TurnAway(now vtime.Tick, service, from string, n int) {
	if n > 0 {
		c.tellOff(now, "access list", "turns away "+service, from, n)
	}
}

// tellOff tells of n requests that the card did not answer, as [Card.TurnAway] says.
func (c *Card) tellOff(now vtime.Tick, subject, why, from string, n int) {
	t := turned{subject: subject, why: why, from: from, until: now + vtime.Minute, more: n - 1}
	at := c.turnedAt(&t)
	if at < 0 && len(c.turned) >= mostTurned {
		t.from = ""
		at = c.turnedAt(&t)
	}
	if at >= 0 {
		c.turned[at].more += n
		return
	}
	c.turned = append(c.turned, t)
	c.told(now, snap.WhatElse, subject, t.text())
}

func (t *turned) text() string { return t.why + " from " + cmp.Or(t.from, "others") }

func (c *Card) turnedAt(x *turned) int {
	return slices.IndexFunc(c.turned, func(t turned) bool { return t.subject == x.subject && t.why == x.why && t.from == x.from })
}

// tellTurned ends the minutes that are over.
func (c *Card) tellTurned(now vtime.Tick) {
	c.turned = slices.DeleteFunc(c.turned, func(t turned) bool {
		if t.until > now {
			return false
		}
		if t.more > 0 {
			c.told(now, snap.WhatElse, t.subject, fmt.Sprintf("%s: %d more within a minute", t.text(), t.more))
		}
		return true
	})
	if len(c.turned) == 0 {
		c.turned = nil
	}
}

func (c *Card) turnedDue() vtime.Tick {
	next := vtime.Never
	for _, t := range c.turned {
		next = min(next, t.until)
	}
	return next
}
