package card

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/device"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// alerting is what the card has to tell people, and how far it has got with it. The
// incidents go with a restart; the messages that wait are kept.
type alerting struct {
	heard      []occurrence // not looked at yet
	open       []incident
	logged     device.Conditions // as they were told to syslog
	mailed     device.Conditions // as they stand for mail, see [worthMail]
	digestFrom uint32            // last entry of the journal that was in one
	stepped    bool
	states     map[stateKey]bool // of what is told again and again, see [Card.HearState]
	facts      func() string     // a few lines of how the unit is
	old        []incident        // as they were open when the card went down

	queue    rare[queue]
	digestAt vtime.Tick // when the last one was made
}

// occurrence is one event, at the present instant.
type occurrence struct {
	event  snap.AlertEvent
	row    uint8 // of several alike; 0: there is one
	on     bool
	about  string
	silent bool // not for mail
}

// mostHeard bounds what happens in one instant.
const mostHeard = 128

// incident is an event from its beginning to where its end has been told. What
// comes back before that is the same incident.
type incident struct {
	occurrence
	since vtime.Tick // it began first
	moved vtime.Tick // it last began or ended
	count int
	told  bool
	from  vtime.Tick // its age counts from then on: before a restart of the card
	risen bool       // it was a warning, and is critical because it lasts
}

// severity is that of the event, or what it has come to.
func (in *incident) severity() snap.Severity {
	if in.risen {
		return snap.Critical
	}
	return in.event.Alert().Severity
}

// Reads gives the card what it reads of its unit for a message.
func (c *Card) Reads(facts func() string) { c.alerts.facts = facts }

// Hear tells the card of an event: that it happens or begins, or with on false
// that it is over. about says to whom or what; row tells those of one kind apart.
func (c *Card) Hear(e snap.AlertEvent, row uint8, on bool, about string) {
	if c.Running() && c.inForce.Alerts != nil && len(c.alerts.heard) < mostHeard {
		c.alerts.heard = append(c.alerts.heard, occurrence{event: e, row: row, on: on, about: about})
	}
}

// stateKey is one of several alike.
type stateKey struct {
	event snap.AlertEvent
	row   uint8
}

// HearState tells the card how something is now: it is an event only if it was not
// so before.
func (c *Card) HearState(e snap.AlertEvent, row uint8, on bool, about string) {
	s := &c.alerts
	if c.inForce.Alerts == nil || !c.Running() || s.states[stateKey{e, row}] == on {
		return
	}
	if s.states == nil {
		s.states = map[stateKey]bool{}
	}
	s.states[stateKey{e, row}] = on
	c.Hear(e, row, on, about)
}

// hearLast makes messages of an event after which the card goes down.
func (c *Card) hearLast(now vtime.Tick, e snap.AlertEvent, about string) {
	if c.Running() && c.tells() {
		c.take(now, occurrence{event: e, on: true, about: about})
	}
}

// tells says whether there is anybody to tell.
func (c *Card) tells() bool {
	a := c.inForce.Alerts
	return a != nil && (a.Mail.Server != "" || len(a.Syslog) > 0 || a.RiseAfter > 0 && len(a.Receivers) > 0)
}

// alertDue looks at what has happened, and lets go what is due.
func (c *Card) alertDue(now vtime.Tick, ups State) {
	s := &c.alerts
	if !c.tells() {
		s.heard, s.open, s.logged, s.mailed, s.stepped = nil, nil, ups.Conditions, worthMail(ups.Conditions), false
		c.dropPosts(now, "alerts are switched off")
		return
	}
	c.hearConditions(ups)
	for _, o := range s.heard {
		c.take(now, o)
	}
	s.heard = s.heard[:0]
	c.ripen(now)
	c.digest(now)
	c.sendPosts(now)
}

// worthMail is the conditions without those that only say another one in other
// words: on battery because of a test, and an input that is out of tolerance while
// the load is on battery for it.
func worthMail(present device.Conditions) device.Conditions {
	switch {
	case present.Has(snap.AlarmOnBattery) && present.Has(snap.AlarmTestInProgress) && !present.Has(snap.AlarmInputBad):
		return present.With(snap.AlarmOnBattery, false)
	case present.Has(snap.AlarmOnBattery):
		return present.With(snap.AlarmInputBad, false)
	}
	return present
}

// hearConditions turns what has changed of the unit into occurrences.
func (c *Card) hearConditions(ups State) {
	s := &c.alerts
	if stepped := ups.Source == snap.SourceBooster || ups.Source == snap.SourceReducer; stepped != s.stepped {
		s.stepped = stepped
		s.heard = append(s.heard, occurrence{event: snap.EventStepped, on: stepped})
	}
	mail := worthMail(ups.Conditions)
	if ups.Conditions == s.logged && mail == s.mailed {
		return
	}
	for k := snap.AlarmKind(1); k < snap.AlarmKinds; k++ {
		o := occurrence{event: snap.AlertEvent(k), on: mail.Has(k)}
		if mail.Has(k) != s.mailed.Has(k) {
			s.heard = append(s.heard, o)
		} else if o.on = ups.Conditions.Has(k); o.on != s.logged.Has(k) {
			o.silent = true
			s.heard = append(s.heard, o)
		}
	}
	s.logged, s.mailed = ups.Conditions, mail
}

// take logs one occurrence, and makes it part of an incident.
func (c *Card) take(now vtime.Tick, o occurrence) {
	s := &c.alerts
	at := slices.IndexFunc(s.open, func(in incident) bool { return in.event == o.event && in.row == o.row })
	c.logPost(now, o, at >= 0 && s.open[at].risen)
	if a := c.inForce.Alerting(); o.silent || o.event == snap.EventUndelivered || a.Mail.Server == "" && a.RiseAfter == 0 {
		return
	}
	if at >= 0 {
		s.open[at].again(now, o)
		return
	}
	if !o.on {
		return
	}
	in := incident{occurrence: o, since: now, moved: now, count: 1, from: c.ageFrom(now, o)}
	if in.on = o.event.Alert().Ends != ""; !in.on { // it has no duration that could be confirmed
		in.told = true
		c.mail(now, &in, false)
	}
	s.open = append(s.open, in)
}

// again is the same incident coming back, or over.
func (in *incident) again(now vtime.Tick, o occurrence) {
	if in.moved = now; o.on {
		in.count++
		in.about = o.about
	}
	in.on = o.on && o.event.Alert().Ends != ""
}

// found is how long after its start the agent has found what there is.
const found = vtime.Second

// ageFrom is from when on the age of what has just begun counts: what was there when
// the card went down, and is there when it is back, has not ended for all it knows.
func (c *Card) ageFrom(now vtime.Tick, o occurrence) vtime.Tick {
	s := &c.alerts
	if now > c.startedAt+found {
		s.old = nil
	}
	for i := range s.old {
		if in := &s.old[i]; in.event == o.event && in.row == o.row && in.on {
			return in.from
		}
	}
	return now
}

// age makes a warning critical that has lasted for long enough, and tells it once.
func (c *Card) age(now vtime.Tick, in *incident) {
	a := c.inForce.Alerting()
	if !in.on || !in.told || in.risen || !a.Rises(in.event) || now < in.from+a.RiseAfter {
		return
	}
	in.risen = true
	q := c.alerts.queue.own()
	q.risen, q.counts = q.risen+1, nil
	text := in.event.String() + " lasts for " + (now - in.from).Duration().String() + ": it is critical now"
	c.note("card", text)
	c.journal.add(now, text)
	c.logWords(now, in.occurrence, true, words(in.occurrence)+", for "+(now-in.from).Duration().String())
	c.mail(now, in, false)
	c.notifyRisen(in)
}

// notifyRisen tells it to SNMP receivers, with which alarm, group, probe or contact it
// is.
func (c *Card) notifyRisen(in *incident) {
	n := risenOf(in)
	if i := slices.IndexFunc(c.table.rows, func(a snap.Alarm) bool { return a.Kind == n.Alarm }); i >= 0 {
		n.AlarmID = c.table.rows[i].ID
	}
	c.Tell(n)
}

// ranked is n, critical if it is about what was a warning and has lasted: who has heard
// of that hears of its end.
func (c *Card) ranked(n snap.Notification) snap.Notification {
	for i := range c.alerts.open {
		if in := &c.alerts.open[i]; in.risen && about(n) != 0 && about(risenOf(in)) == about(n) {
			n.Matters = snap.Critical.Rank()
		}
	}
	return n
}

// risenOf tells that in has lasted.
func risenOf(in *incident) snap.Notification {
	n := snap.Notification{Kind: snap.NotifyRisen, Event: in.event, Row: in.row}
	if k := snap.AlarmKind(in.event); k < snap.AlarmKinds {
		n.Alarm, n.Row = k, 0
	}
	return n
}

// brief is how often something has to come and go, each time too shortly to be
// told, before that is told.
const brief = 3

// ripen tells what has lasted long enough, and closes what has been over for long
// enough.
func (c *Card) ripen(now vtime.Tick) {
	a := c.inForce.Alerting()
	kept := c.alerts.open[:0]
	for _, in := range c.alerts.open {
		switch {
		case in.on && !in.told && now >= in.moved+a.Confirm:
			in.told = true
			c.mail(now, &in, false)
		case !in.on && now >= in.moved+a.Settle:
			if in.told && in.event.Alert().Ends != "" || in.told && in.count > 1 || in.count >= brief {
				c.mail(now, &in, true)
			}
			continue
		}
		c.age(now, &in)
		kept = append(kept, in)
	}
	c.alerts.open = kept
}

// alertDeadline is when there is something to do next without anything happening.
func (c *Card) alertDeadline(now vtime.Tick) vtime.Tick {
	a := c.inForce.Alerting()
	next := vtime.Never
	for i := range c.alerts.open {
		switch in := &c.alerts.open[i]; {
		case in.on && !in.told:
			next = min(next, in.moved+a.Confirm)
		case in.on && !in.risen && a.Rises(in.event):
			next = min(next, in.from+a.RiseAfter)
		case !in.on:
			next = min(next, in.moved+a.Settle)
		}
	}
	if c.digests() {
		next = min(next, c.alerts.digestAt+a.Mail.DigestEvery)
	}
	return min(next, c.postDeadline(now))
}

// forgetIncidents is the card going down: what it had not told yet it will find
// again when it is back.
func (c *Card) forgetIncidents() {
	s := &c.alerts
	if len(s.open) > 0 { // a restart while it boots finds nothing new
		s.old = s.open
	}
	if x := c.expiring.at; x != nil {
		x.warned = nil
	}
	s.heard, s.open, s.states, s.logged, s.mailed, s.stepped = nil, nil, nil, 0, 0, false
	if q := s.queue.at; q != nil {
		q.ground()
	}
}

// say is what an incident comes to in words.
func (in *incident) say(ends bool) string {
	k := in.event.Alert()
	text := k.Begins
	switch {
	case ends && !in.told:
		text = fmt.Sprintf("%s, %d times, each briefly; it is over", k.Begins, in.count)
	case ends && k.Ends == "":
		text = fmt.Sprintf("%s, %d times", k.Begins, in.count)
	case ends:
		text = k.Ends
	}
	if in.about != "" {
		text += ": " + in.about
	}
	if in.risen && !ends {
		text += ", and nothing has changed"
	}
	return text
}
