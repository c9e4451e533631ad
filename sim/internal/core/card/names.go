package card

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// names is what the card knows of addresses that it has looked up for its messages; a
// restart forgets it.
type names struct {
	found map[string]vtime.Tick // when, by name
	busy  vtime.Tick            // of a card that sends nothing meanwhile: until then it waits for a name
}

// maxNames bounds the names that are remembered: those of settings are fewer.
const maxNames = 64

// KnowsName says whether the card need not ask for the address of host.
func (c *Card) KnowsName(now vtime.Tick, host string) bool {
	q, keep := c.alerts.queue.at, c.inForce.Link().NamesKept
	if q == nil || keep == 0 {
		return false
	}
	at, found := q.names.found[host]
	return found && now < at+keep
}

// LooksUp is a lookup that ends at until, and whether it has found the address.
func (c *Card) LooksUp(until vtime.Tick, host string, found bool) {
	n := &c.alerts.queue.own().names
	if n.found == nil || len(n.found) >= maxNames {
		n.found = map[string]vtime.Tick{}
	}
	if delete(n.found, host); found {
		n.found[host] = until
	}
	if c.cfg.Waits {
		n.busy = until
	}
}

// Waiting is until when the card waits for a name and sends nothing; 0: it does not.
func (c *Card) Waiting(now vtime.Tick) vtime.Tick {
	if q := c.alerts.queue.at; q != nil && q.names.busy > now {
		return q.names.busy
	}
	return 0
}

// flushes is when notifications leave that wait for a name to be found; Never: none do.
func (c *Card) flushes(now vtime.Tick) vtime.Tick {
	if busy := c.Waiting(now); busy > 0 && len(c.out.waiting) > 0 {
		return busy
	}
	return vtime.Never
}

// flushFree lets notifications leave unless the card waits for a name.
func (c *Card) flushFree(now vtime.Tick, send func(snap.Notification)) {
	if c.Waiting(now) == 0 {
		c.flush(now, send)
	}
}
