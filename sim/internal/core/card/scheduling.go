package card

import (
	"fmt"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// scheduler follows the weekly schedule by the card's clock.
type scheduler struct {
	made    bool // the deadlines below are those of the clock and settings as they are
	waiting bool // for the clock to be set; said once
	clock   snap.Clock
	entries []slot
	nextAt  vtime.Tick
	counts  snap.ScheduleState
	state   *snap.ScheduleState
	orders  []ScheduleOrder
	done    map[string]snap.Stamp // when an entry acted last, by its name
}

// slot is the next time of one entry.
type slot struct {
	at     snap.Stamp // when it acts
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

// follow has the schedule act when an entry is due. What lies in a time without a
// set clock, without the card, or that the clock was moved over is not made up for.
func (c *Card) follow(now vtime.Tick) {
	s, k := &c.inForce.Schedule, &c.schedule
	if len(s.Entries) == 0 {
		if k.state != nil || k.entries != nil {
			*k = scheduler{nextAt: vtime.Never, counts: k.counts, done: k.done}
			c.stirred = true
		}
		return
	}
	if !c.clock.Set {
		c.waitForClock(now)
		return
	}
	k.waiting = false
	if !k.made || k.clock != c.clock.Clock {
		c.plan(now)
	}
	if k.nextAt > now {
		return
	}
	for i := range k.entries {
		c.actEntry(now, &s.Entries[i], &k.entries[i])
	}
	c.plan(now)
}

func (c *Card) waitForClock(now vtime.Tick) {
	k := &c.schedule
	k.made, k.nextAt = false, vtime.Never
	if k.waiting {
		return
	}
	k.waiting = true
	c.note("schedule", "waits: the clock was never set")
	c.journal.event(now, "the schedule waits: the clock was never set")
	c.showSchedule()
}

// plan finds the next time of every entry.
func (c *Card) plan(now vtime.Tick) {
	s, k := &c.inForce.Schedule, &c.schedule
	before := k.entries
	k.made, k.clock, k.nextAt = true, c.clock.Clock, vtime.Never
	k.entries = make([]slot, len(s.Entries))
	shown := c.clock.Stamp(now)
	for i := range s.Entries {
		e, rule := &s.Entries[i], s.Rule(i)
		from := shown
		if last, ok := k.done[e.Name]; ok && last > from && last-from < forgetAfter {
			from = last
		}
		at, ok := rule.Next(c.clock.In(from))
		x := slot{at: snap.StampOf(at), ok: ok, warnAt: vtime.Never, actAt: vtime.Never}
		if ok {
			x.actAt = c.clock.Reaches(now, x.at)
			x.warned = e.On || i < len(before) && before[i].warned && before[i].at == x.at
			if !x.warned {
				x.warnAt = c.clock.Reaches(now, x.at-snap.Stamp(e.Warn))
			}
		}
		k.entries[i] = x
		k.nextAt = min(k.nextAt, x.warnAt, x.actAt)
	}
	c.showSchedule()
}

func (c *Card) actEntry(now vtime.Tick, e *snap.ScheduleEntry, x *slot) {
	k := &c.schedule
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
	if k.done == nil {
		k.done = map[string]snap.Stamp{}
	}
	k.done[e.Name] = x.at
	if e.On {
		k.counts.Ons++
	} else {
		k.counts.Offs++
	}
	c.sayEntry(now, e, e.What()+" "+e.Does())
	k.orders = append(k.orders, ScheduleOrder{Entry: *e})
}

func (c *Card) sayEntry(now vtime.Tick, e *snap.ScheduleEntry, text string) {
	text = "schedule " + e.Name + ": " + text
	c.note("schedule", text[len("schedule "):])
	c.journal.event(now, text)
}

func (c *Card) showSchedule() {
	k, s := &c.schedule, &c.inForce.Schedule
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
	list := c.schedule.orders
	c.schedule.orders = nil
	return list
}
