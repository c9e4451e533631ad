package card

import (
	"maps"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// count changes the sums of a message's kind and of whom it goes to.
func (q *queue) count(p *StoredPost, change func(*snap.PostCount)) {
	if q.sums == nil {
		q.sums = map[string]snap.PostCount{}
	}
	for _, key := range []string{p.kind().String(), p.kind().String() + "/" + p.To} {
		n := q.sums[key]
		change(&n)
		q.sums[key] = n
	}
	q.office, q.counts = nil, nil
}

// Posts is what became of messages; nil: there were none.
func (c *Card) Posts() *snap.Posts {
	q := c.alerts.queue.at
	if q == nil {
		return nil
	}
	if q.counts == nil && (q.sums != nil || q.risen > 0) {
		q.counts = &snap.Posts{Mail: q.sums["mail"], Syslog: q.sums["syslog"], To: maps.Clone(q.sums), Risen: q.risen}
	}
	return q.counts
}

// office is what the card shows of its messages; nil: there were none.
func (c *Card) postOffice() *snap.PostOffice {
	q := c.alerts.queue.at
	if q == nil {
		return nil
	}
	if q.office != nil || q.sums == nil {
		return q.office
	}
	o := &snap.PostOffice{Done: q.done}
	for i := range q.posts {
		p := &q.posts[i]
		line := snap.PostLine{ID: p.ID, Kind: p.kind(), To: p.To, Event: p.Event, Made: p.made, Tries: p.tries, State: "waiting", Text: p.reason, At: vtime.Never}
		if p.flying {
			line.State = "sending"
		} else if l := q.lanes["mail"]; l != nil && !p.Syslog {
			line.At = max(p.next, l.next)
		}
		o.Waiting = append(o.Waiting, line)
	}
	q.office = o
	return o
}

// Try makes a test message to that recipient, collector or receiver, or to all of
// them, and says to how many. Which receiver of a card without notifications of its
// own gets them cannot be tried.
func (c *Card) Try(now vtime.Tick, name string, by snap.Actor) int {
	a, n := c.inForce.Alerting(), 0
	in := incident{occurrence: occurrence{event: snap.EventTry, on: true, about: "asked for by " + who(by)}, since: now, moved: now, count: 1}
	for i := range a.Recipients {
		if r := &a.Recipients[i]; (name == "" || r.Name == name) && a.Mail.Server != "" {
			c.enqueue(now, StoredPost{To: r.Name, Event: snap.EventTry, Subject: "test: " + in.say(false), Body: c.body(now, &in, false)})
			n++
		}
	}
	for i := range a.Syslog {
		if l := &a.Syslog[i]; name == "" || l.Name == name {
			c.enqueue(now, StoredPost{Syslog: true, To: l.Name, Event: snap.EventTry, Subject: words(in.occurrence)})
			n++
		}
	}
	for i := range a.Receivers {
		if r := &a.Receivers[i]; (name == "" || r.Name == name) && c.cfg.Private {
			c.Tell(snap.Notification{Kind: snap.NotifyTry, To: uint8(i + 1)})
			n++
		}
	}
	if n > 0 {
		c.journal.add(now, "test message asked for by "+who(by))
	}
	return n
}
