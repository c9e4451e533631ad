package card

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// unitLink is the card's connection to the unit's own controller.
type unitLink struct {
	cut   bool       // by a fault
	up    bool       // the card has contact
	upAt  vtime.Tick // contact is found then; Never
	since vtime.Tick // that it is as it is
	held  State      // what the card read last, while there is no contact
}

// Remove pulls the card out of its slot. The unit goes on without it.
func (c *Card) Remove(now vtime.Tick) {
	if c.state == snap.CardAbsent {
		return
	}
	c.note("card", "pulled out")
	c.unseated = false
	c.halt(now, snap.CardAbsent)
}

// Insert puts the card into its slot, or presses home one that is not seated; it boots
// as soon as the slot has supply.
func (c *Card) Insert(vtime.Tick) {
	switch {
	case c.state == snap.CardAbsent:
		c.note("card", "put in")
		c.state = snap.CardOff
	case c.unseated:
		c.note("card", "pressed home")
		c.unseated = false
	}
}

// Unseat leaves the card in its slot, pushed in or worked loose, so that its contacts
// do not meet: it has no supply, whatever the unit has.
func (c *Card) Unseat(now vtime.Tick) {
	if c.unseated {
		return
	}
	c.unseated = true
	if c.state == snap.CardAbsent {
		c.note("card", "put in, and not home: its contacts do not meet")
		c.state = snap.CardOff
		return
	}
	c.note("card", "works loose: its contacts do not meet")
	if c.state != snap.CardOff {
		c.halt(now, snap.CardOff)
	}
}

// Hang stops the card's firmware where it is: nothing answers any more, and the
// lamps stay. Its watchdog restarts it, if it has one.
func (c *Card) Hang(now vtime.Tick) {
	if !c.Running() {
		return
	}
	c.note("card", "hangs")
	c.state, c.runningAt = snap.CardHung, vtime.Never
	if c.cfg.Watchdog != vtime.Never {
		c.runningAt = now + c.cfg.Watchdog
	}
}

// bark is what the watchdog does when it has not heard of the firmware for long
// enough.
func (c *Card) bark(now vtime.Tick) {
	if c.state != snap.CardHung || c.runningAt > now {
		return
	}
	c.note("card", "watchdog")
	c.journal.add(now, "the watchdog found the card hanging")
	c.Restart(now)
}

// halt ends the agent's life with the card in that state.
func (c *Card) halt(_ vtime.Tick, state snap.CardState) {
	c.state, c.runningAt = state, vtime.Never
	c.stop()
}

// CutUnit cuts the connection to the unit or mends it.
func (c *Card) CutUnit(now vtime.Tick, cut bool) {
	if cut == c.unit.cut {
		return
	}
	c.unit.cut = cut
	if c.state != snap.CardRunning && c.state != snap.CardHung {
		return
	}
	switch {
	case cut && c.unit.up:
		c.loseUnit(now, "contact with the UPS lost")
	case cut:
		c.unit.upAt = vtime.Never // it had none, and will have none
	case c.mismatch() == "":
		c.unit.upAt = now
	}
}

func (c *Card) loseUnit(now vtime.Tick, text string) {
	c.unit.up, c.unit.upAt, c.unit.since = false, vtime.Never, now
	c.note("card", text)
	c.journal.event(now, text)
}

// findUnit is what the agent does for contact when it starts.
func (c *Card) findUnit(now vtime.Tick) {
	c.unit = unitLink{cut: c.unit.cut, up: true, upAt: vtime.Never, since: now}
	switch {
	case c.unit.cut:
		c.loseUnit(now, "no contact with the UPS")
	case c.mismatch() != "":
		c.loseUnit(now, "no contact with the UPS: "+c.mismatch())
	case c.cfg.UnitTakes > 0 && now > 0 && c.inForce.Link().UnitBit == 0: // at tick 0 it has long been up
		c.loseUnit(now, "no contact with the UPS yet")
		c.unit.upAt = now + c.cfg.UnitTakes
	}
}

// mismatch says why card and unit do not understand each other, "" if they do.
func (c *Card) mismatch() string {
	switch set := c.inForce.Link().UnitBit; {
	case set == 0 && c.cfg.NoDetect:
		return "it answers at none of the speeds that were tried"
	case set != 0 && set != c.cfg.UnitSpeed:
		return fmt.Sprintf("it does not answer at %d bit/s", set)
	}
	return ""
}

// look is what the card knows of the unit now: what it reads, or what it read
// last and that it has no contact.
func (c *Card) look(now vtime.Tick, ups State) State {
	if c.unit.upAt <= now {
		c.unit.up, c.unit.upAt, c.unit.since = true, vtime.Never, now
		c.note("card", "contact with the UPS")
		c.journal.event(now, "contact with the UPS")
	}
	if c.unit.up {
		c.unit.held = ups
		return ups
	}
	held := c.unit.held
	if held.Test == 0 {
		held.Test = c.test
	}
	held.Conditions = held.Conditions.With(snap.AlarmCommunicationsLost, true)
	return held
}

// HasUnit says whether the card has contact with the unit, or is not there to have
// any.
func (c *Card) HasUnit() bool {
	return c.unit.up || c.state != snap.CardRunning && c.state != snap.CardHung
}

// blanks says whether the card shows nothing of a unit that it has lost: as set,
// or because it has had no contact since it started.
func (c *Card) blanks() bool {
	return c.unit.held.Test == 0 || c.inForce.Link().NoContact == snap.ContactBlank
}

// RefusesUnit is the refusal of whatever has to reach the unit, if there is no
// contact.
func (c *Card) RefusesUnit() (snap.Result, bool) {
	if c.HasUnit() {
		return snap.Result{}, false
	}
	return snap.Result{Status: snap.Busy, Reason: "the card has no contact with the UPS"}, true
}
