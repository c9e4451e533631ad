package card

import (
	"cmp"
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// mostTurned bounds the sources of which the card tells one by one.
const mostTurned = 16

// turned is somebody whom the access list has turned away.
type turned struct {
	service, from string     // from "": others
	until         vtime.Tick // the minute's end
	more          int        // than the one that was told
}

// TurnAway is told of n requests for a service from an address that the access list
// does not let use it. The journal gets the first within a minute, and how many more
// there were at its end.
func (c *Card) TurnAway(now vtime.Tick, service, from string, n int) {
	if n <= 0 {
		return
	}
	at := c.turnedAt(service, from)
	if at < 0 && len(c.turned) >= mostTurned {
		from = ""
		at = c.turnedAt(service, from)
	}
	if at >= 0 {
		c.turned[at].more += n
		return
	}
	c.turned = append(c.turned, turned{service: service, from: from, until: now + vtime.Minute, more: n - 1})
	c.told(now, "access list", turnsAway(service, from))
}

func turnsAway(service, from string) string {
	return "turns away " + service + " from " + cmp.Or(from, "others")
}

func (c *Card) turnedAt(service, from string) int {
	return slices.IndexFunc(c.turned, func(t turned) bool { return t.service == service && t.from == from })
}

// tellTurned ends the minutes that are over.
func (c *Card) tellTurned(now vtime.Tick) {
	c.turned = slices.DeleteFunc(c.turned, func(t turned) bool {
		if t.until > now {
			return false
		}
		if t.more > 0 {
			c.told(now, "access list", fmt.Sprintf("%s: %d more within a minute", turnsAway(t.service, t.from), t.more))
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
