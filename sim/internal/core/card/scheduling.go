package card

import (
	"fmt"

	"ridethrough/sim/internal/core/schedule"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// scheduler follows the weekly schedule by the card's clock.
type scheduler struct {
	made     bool // the deadlines below are those of the clock and settings as they are
	waiting  bool // for the clock to be set; said once
	clock    snap.Clock
	entries  []slot
	nextAt   vtime.Tick
	counts   snap.ScheduleState
	state    *snap.ScheduleState
	orders   []ScheduleOrder
	followed vtime.Tick // when the card last looked at the schedule
}

// KeptSchedule is what the card keeps of what its schedule did.
type KeptSchedule struct {
	Done []KeptEntry `json:"done"`
}

// KeptEntry says when the entry of that name acted last: the date that the card's
// clock should have shown, so that going back over it changes nothing.
type KeptEntry struct {
	Name string     `json:"name"`
	At   snap.Stamp `json:"at"`
}

// due is when an entry acts next; Never without a schedule.
func (k *scheduler) due() vtime.Tick {
	if k == nil {
		return vtime.Never
	}
	return k.nextAt
}

// remake has the deadlines made anew.
func (k *scheduler) remake() {
	if k != nil {
		k.made = false
	}
}

func (k *scheduler) shown() *snap.ScheduleState {
	if k == nil {
		return nil
	}
	return k.state
}

// slot is the next time of one entry.
type slot struct {
	of     snap.ScheduleEntry
	at     snap.Stamp // when it acts
	late   bool       // it was missed and is made up for
	ok     bool
	warned bool
	warnAt vtime.Tick
	actAt  vtime.Tick
}

// ScheduleOrder is what an entry asks of the site now.
type ScheduleOrder struct {
	Entry snap.ScheduleEntry
	// Warn: it goes off In from now; else it acts now.
	Warn bool
	In   vtime.Tick
}

// A clock that was set far back lets an entry act again: what it did is then of
// another time.
const forgetAfter = snap.Stamp(8 * 24 * vtime.Hour)

// makesUp is how long a card may have been away, with its clock going on, for what
// was due meanwhile to be made up for when it is back: longer than any restart.
const makesUp = 10 * vtime.Minute

// follow has the schedule act when an entry is due. What lies in a time without a
// set clock, without the card for longer than a restart takes, or that the clock was
// moved over is not made up for.
func (c *Card) follow(now vtime.Tick) {
	s, k := &c.inForce.Schedule, c.schedule
	if len(s.Entries) == 0 {
		if k == nil {
			return
		}
		if k.state != nil || k.entries != nil {
			*k = scheduler{nextAt: vtime.Never, counts: k.counts}
			c.stirred = true
		}
		return
	}
	if k == nil {
		k = &scheduler{nextAt: vtime.Never}
		c.schedule = k
	}
	if !c.clock.Set {
		c.waitForClock(now)
		return
	}
	k.waiting = false
	if !k.made || k.clock != c.clock.Clock {
		c.plan(now)
	}
	k.followed = now
	if k.nextAt > now {
		return
	}
	for i := range k.entries {
		c.actEntry(now, &s.Entries[i], &k.entries[i])
	}
	c.plan(now)
}

func (c *Card) waitForClock(now vtime.Tick) {
	k := c.schedule
	k.made, k.nextAt = false, vtime.Never
	if k.waiting {
		return
	}
	k.waiting = true
	c.says(snap.What{Kind: snap.WhatSchedule}, "schedule", "waits: the clock was never set")
	c.journal.event(now, "the schedule waits: the clock was never set")
	c.showSchedule()
}

// plan finds the next time of every entry.
func (c *Card) plan(now vtime.Tick) {
	s, k := &c.inForce.Schedule, c.schedule
	before, seen := k.entries, c.seenUntil(now)
	k.made, k.clock, k.nextAt = true, c.clock.Clock, vtime.Never
	k.entries = make([]slot, len(s.Entries))
	for i := range s.Entries {
		e, last := &s.Entries[i], slotOf(before, s.Entries[i].Name)
		from := c.clock.Stamp(now)
		if last.of == *e {
			from = seen
		}
		if last.late && last.of == *e && last.actAt > now {
			k.entries[i] = last
		} else {
			k.entries[i] = c.planEntry(now, from, e, s.Rule(i), last)
		}
		k.nextAt = min(k.nextAt, k.entries[i].warnAt, k.entries[i].actAt)
	}
	c.showSchedule()
}

// seenUntil is the date up to which the entries that there were have acted, or never
// will.
func (c *Card) seenUntil(now vtime.Tick) snap.Stamp {
	if k := c.schedule; k.clock == c.clock.Clock && now-k.followed <= makesUp {
		return c.clock.Stamp(k.followed)
	}
	return c.clock.Stamp(now)
}

func (c *Card) planEntry(now vtime.Tick, from snap.Stamp, e *snap.ScheduleEntry, rule schedule.Rule, last slot) slot {
	if done, ok := c.lastDone(e.Name); ok && done > from && done-from < forgetAfter {
		from = done
	}
	at, ok := rule.Next(c.clock.In(from))
	x := slot{of: *e, at: snap.StampOf(at), ok: ok, warnAt: vtime.Never, actAt: vtime.Never}
	if !ok {
		return x
	}
	x.late = x.at <= c.clock.Stamp(now) && from < x.at
	x.actAt = c.clock.Reaches(now, x.at)
	x.warned = !e.Warns() || last.warned && last.at == x.at
	switch {
	case x.warned:
	case x.late: // nobody is cut off without warning
		x.warnAt, x.actAt = now, now+e.Warn
	default:
		x.warnAt = c.clock.Reaches(now, x.at-snap.Stamp(e.Warn))
	}
	return x
}

// slotOf is the slot of the entry with that name.
func slotOf(list []slot, name string) slot {
	for i := range list {
		if list[i].of.Name == name {
			return list[i]
		}
	}
	return slot{}
}

func (c *Card) lastDone(name string) (snap.Stamp, bool) {
	if c.kept.Schedule != nil {
		for _, d := range c.kept.Schedule.Done {
			if d.Name == name {
				return d.At, true
			}
		}
	}
	return 0, false
}

// keepDone writes down that the entry acted, and forgets those that there are no
// more.
func (c *Card) keepDone(name string, at snap.Stamp) {
	kept := &KeptSchedule{}
	for i := range c.inForce.Schedule.Entries {
		other := c.inForce.Schedule.Entries[i].Name
		if done, ok := c.lastDone(other); ok && other != name {
			kept.Done = append(kept.Done, KeptEntry{other, done})
		}
	}
	kept.Done = append(kept.Done, KeptEntry{name, at})
	c.kept.Schedule = kept
	c.changed(&c.kept.Schedule)
}

// CountdownLost has entries that warned of the output going off warn again: the unit
// has lost its countdown with the card's restart.
func (c *Card) CountdownLost() {
	k := c.schedule
	if k == nil {
		return
	}
	for i := range k.entries {
		if x := &k.entries[i]; x.of.Warns() && x.of.Group == "" {
			x.warned, k.made = false, false
		}
	}
}

func (c *Card) actEntry(now vtime.Tick, e *snap.ScheduleEntry, x *slot) {
	k := c.schedule
	if x.ok && !x.warned && x.warnAt <= now {
		x.warned = true
		k.counts.Warnings++
		in := max(x.actAt-now, 0)
		c.sayEntry(now, e, fmt.Sprintf("%s goes off in %s", e.What(), in.Duration().Round(1e9)))
		c.Hear(snap.EventSchedule, 0, true, e.Name+", "+e.What())
		k.orders = append(k.orders, ScheduleOrder{Entry: *e, Warn: true, In: in})
	}
	if !x.ok || x.actAt > now {
		return
	}
	c.keepDone(e.Name, x.at)
	switch {
	case e.Test:
		k.counts.Tests++
	case e.On:
		k.counts.Ons++
	default:
		k.counts.Offs++
	}
	text := e.What() + " " + e.Does()
	if x.late {
		text += ", late: the card was away"
	}
	c.sayEntry(now, e, text)
	k.orders = append(k.orders, ScheduleOrder{Entry: *e})
}

func (c *Card) sayEntry(now vtime.Tick, e *snap.ScheduleEntry, text string) {
	text = "schedule " + e.Name + ": " + text
	c.says(snap.What{Kind: snap.WhatSchedule}, "schedule", text[len("schedule "):])
	c.journal.event(now, text)
}

func (c *Card) showSchedule() {
	k, s := c.schedule, &c.inForce.Schedule
	state := k.counts
	state.Waits, state.NextAt = k.waiting, k.nextAt
	for i := range k.entries {
		if min(k.entries[i].warnAt, k.entries[i].actAt) == k.nextAt && k.nextAt != vtime.Never {
			state.Next = s.Entries[i].Name
			break
		}
	}
	k.state, c.stirred = &state, true
}

// ScheduleOrders hands over what the schedule asks for since the last call.
func (c *Card) ScheduleOrders() []ScheduleOrder {
	if c.schedule == nil {
		return nil
	}
	list := c.schedule.orders
	c.schedule.orders = nil
	return list
}
