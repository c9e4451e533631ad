package card

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// NewHostKey has the SSH server get another host key. why may be empty.
func (c *Card) NewHostKey(now vtime.Tick, why string) {
	k := c.ownHostKey()
	k.Changes++
	text := "host key of the SSH server made anew"
	if why != "" {
		text += " " + why
	}
	c.note("card", text)
	c.journal.add(now, text)
	c.Hear(snap.EventHostKey, 0, true, "")
}

// HasHostKey takes the fingerprint of the key that the SSH server has now. One in the
// place of another is told.
func (c *Card) HasHostKey(now vtime.Tick, print string) {
	k := c.ownHostKey()
	if k.Print != "" && k.Print != print {
		c.journal.add(now, "host key of the SSH server is "+print+", it was "+k.Print)
	}
	k.Print = print
}

// ownHostKey may be written to, once.
func (c *Card) ownHostKey() *snap.HostKey {
	k := new(snap.HostKey)
	if c.hostKey != nil {
		*k = *c.hostKey
	}
	c.hostKey = k
	return k
}
