package card

import (
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// StoredPost is a message that waits, as the card's memory keeps it.
type StoredPost struct {
	ID      uint32          `json:"id"`
	Syslog  bool            `json:"syslog,omitempty"` // else a mail
	To      string          `json:"to"`               // name in the settings
	Event   snap.AlertEvent `json:"event"`
	Clears  bool            `json:"clears,omitempty"`
	Risen   bool            `json:"risen,omitempty"` // it is critical because it has lasted
	Made    snap.Stamp      `json:"made"`
	Subject string          `json:"subject"`
	Body    string          `json:"body,omitempty"`
	Digest  bool            `json:"digest,omitempty"`
	After   uint32          `json:"after,omitempty"` // of a digest: the entry before its first
}

// StoredPosts are all of them, and the number of the last.
type StoredPosts struct {
	Last  uint32       `json:"last"`
	Posts []StoredPost `json:"posts"`
}

// post is one with what a restart forgets.
type post struct {
	StoredPost
	made   vtime.Tick
	late   bool // the attempt under way is marked so
	tries  int
	next   vtime.Tick // earliest time of the next attempt
	flying bool
	reason string
}

// queue holds the messages that wait, the oldest first, and counts.
type queue struct {
	posts   []post
	lanes   map[string]*lane // one for mail, and one for each collector
	leaving []*snap.Post
	done    []snap.PostLine
	office  *snap.PostOffice // as it is shown; nil: not up to date
	counts  *snap.Posts      // likewise
	sums    map[string]snap.PostCount
	risen   int
	names   names
}

// lane is the way to one server, on which one message is at a time.
type lane struct {
	busy  bool
	tries int        // in a row without an answer
	next  vtime.Tick // earliest time of the next attempt
}

const (
	// queued bounds the messages that wait. Of more the oldest that is not critical
	// goes, or the oldest.
	queued = 64
	// settling is how long the agent has to be up before it sends messages. By then a
	// session that serves it has said which servers are real.
	settling = vtime.Second
	// remembered is how many messages that are over can be looked at.
	remembered = 16
)

// backOff is how long the card waits after so many attempts in a row that failed:
// common practice, doubled from half a minute to five minutes.
func backOff(tries int) vtime.Tick {
	return min(30*vtime.Second<<min(tries-1, 10), 5*vtime.Minute)
}

// dropPosts empties the queue.
func (c *Card) dropPosts(now vtime.Tick, why string) {
	for len(c.alerts.queue.get().posts) > 0 {
		c.over(now, 0, "dropped", why)
	}
}

func (c *Card) enqueue(now vtime.Tick, p StoredPost) {
	q := c.alerts.queue.own()
	if len(q.posts) >= queued {
		c.over(now, q.worst(), "dropped", "too many wait")
	}
	c.kept.Posts.Last++
	p.ID, p.Made = c.kept.Posts.Last, c.clock.Stamp(now)
	q.posts = append(q.posts, post{StoredPost: p, made: now})
	q.count(&p, func(n *snap.PostCount) { n.Made++; n.Waiting++ })
	c.keepPosts()
}

// worst is the one to drop.
func (q *queue) worst() int {
	for i := range q.posts {
		if p := &q.posts[i]; !p.flying && !p.Risen && p.Event.Alert().Severity != snap.Critical {
			return i
		}
	}
	return 0
}

func (c *Card) keepPosts() {
	q := c.alerts.queue.own()
	list := make([]StoredPost, len(q.posts))
	for i := range q.posts {
		list[i] = q.posts[i].StoredPost
	}
	c.kept.Posts.Posts = list
	c.changed(&c.kept.Posts)
}

// recallPosts takes up the messages that waited in the life before.
func (c *Card) recallPosts() {
	for _, p := range c.kept.Posts.Posts {
		age := vtime.Tick(max(0, c.clock.Stamp(0)-p.Made)) // nothing by a clock that went back meanwhile
		q := c.alerts.queue.own()
		q.posts = append(q.posts, post{StoredPost: p, made: -age})
		q.count(&p, func(n *snap.PostCount) { n.Waiting++ })
	}
}

func (p *StoredPost) kind() snap.PostKind {
	if p.Syslog {
		return snap.PostSyslog
	}
	return snap.PostMail
}

// way is the lane of the message.
func (q *queue) way(p *post) *lane {
	key := "mail"
	if p.Syslog {
		key = "syslog " + p.To
	}
	if q.lanes == nil {
		q.lanes = map[string]*lane{}
	}
	if q.lanes[key] == nil {
		q.lanes[key] = &lane{}
	}
	return q.lanes[key]
}

// ground forgets what is under way: it may arrive twice.
func (q *queue) ground() {
	q.lanes, q.leaving, q.office, q.names = nil, nil, nil, names{}
	for i := range q.posts {
		q.posts[i].flying, q.posts[i].next = false, 0
	}
}

// sendPosts lets leave what may, and gives up what has waited too long.
func (c *Card) sendPosts(now vtime.Tick) {
	q := c.alerts.queue.at
	if q == nil {
		return
	}
	for i := 0; i < len(q.posts); i++ {
		if p := &q.posts[i]; !p.flying && now >= p.made+c.inForce.Alerting().Mail.Expiry {
			c.over(now, i, "expired", p.reason)
			i--
		}
	}
	if !c.address.now.Reachable() || now < c.startedAt+settling || c.Waiting(now) > 0 {
		return
	}
	for i := 0; i < len(q.posts); i++ {
		p := &q.posts[i]
		if l := q.way(p); p.flying || l.busy || l.next > now || p.next > now {
			continue
		}
		if !c.leave(now, p) {
			c.over(now, i, "dropped", "nobody of that name is in the settings any more")
			i--
		}
	}
}

// leave sends a message; false: the settings have nobody to whom.
func (c *Card) leave(now vtime.Tick, p *post) bool {
	q, a := c.alerts.queue.own(), c.inForce.Alerting()
	out := &snap.Post{ID: p.ID, Kind: p.kind(), To: p.To, Clears: p.Clears, Event: p.Event}
	if p.Syslog {
		i := slices.IndexFunc(a.Syslog, func(l snap.SyslogServer) bool { return l.Name == p.To })
		if i < 0 {
			return false
		}
		l := a.Syslog[i]
		out.Syslog, out.Text, out.Where = &l, c.record(p, &l), where(l.Server, l.Port)
	} else {
		i := slices.IndexFunc(a.Recipients, func(r snap.Recipient) bool { return r.Name == p.To })
		if i < 0 || a.Mail.Server == "" {
			return false
		}
		m := a.Mail
		p.late = now >= p.made+m.LateAfter
		out.Mail, out.Late, out.Address, out.Where = &m, p.late, a.Recipients[i].Address, where(m.Server, m.Port)
		out.Letter = c.letter(now, p, &a.Recipients[i])
	}
	p.flying, q.way(p).busy = true, true
	p.tries++
	q.leaving = append(q.leaving, out)
	q.count(&p.StoredPost, func(n *snap.PostCount) { n.Sent++ })
	return true
}

// where is server and port as one text.
func where(server string, port uint16) string {
	if a, err := netip.ParseAddr(server); err == nil {
		return netip.AddrPortFrom(a, port).String()
	}
	return fmt.Sprintf("%s:%d", server, port)
}

// TakePosts are the messages that leave, since the last call.
func (c *Card) TakePosts() []*snap.Post {
	q := c.alerts.queue.at
	if q == nil {
		return nil
	}
	list := q.leaving
	q.leaving = nil
	return list
}

// Posted takes up what an attempt came to.
func (c *Card) Posted(now vtime.Tick, id uint32, outcome snap.Outcome, answered bool, reason string) {
	q := c.alerts.queue.own()
	i := slices.IndexFunc(q.posts, func(p post) bool { return p.ID == id })
	if i < 0 || !c.Running() {
		return
	}
	p, l := &q.posts[i], q.way(&q.posts[i])
	p.flying, l.busy = false, false
	p.reason, q.office = reason, nil
	if l.tries++; outcome == snap.Delivered || answered {
		l.tries = 0
	}
	switch {
	case outcome == snap.Delivered && p.late:
		c.over(now, i, "late", "")
	case outcome == snap.Delivered:
		c.over(now, i, "delivered", "")
	case p.Syslog && c.overUDP(p):
		c.over(now, i, "lost", reason)
	case outcome == snap.Rejected:
		c.over(now, i, "rejected", reason)
	case answered:
		p.next = now + backOff(p.tries)
	default:
		l.next = now + backOff(l.tries)
	}
	if i := slices.IndexFunc(q.posts, func(p post) bool { return p.ID == id }); i >= 0 {
		c.note(p.kind().String(), fmt.Sprintf("%d to %s: deferred: %s", id, q.posts[i].To, reason))
		if q.posts[i].tries == 1 {
			c.journal.add(now, fmt.Sprintf("%s %d to %s not delivered yet: %s", p.kind(), id, q.posts[i].To, reason))
		}
	}
}

func (c *Card) overUDP(p *post) bool {
	for i := range c.inForce.Alerting().Syslog {
		if l := &c.inForce.Alerts.Syslog[i]; l.Name == p.To {
			return l.Transport == snap.SyslogUDP
		}
	}
	return false
}

// over takes a message out of the queue.
func (c *Card) over(now vtime.Tick, i int, state, reason string) {
	q := c.alerts.queue.own()
	p := q.posts[i]
	q.posts = slices.Delete(q.posts, i, i+1)
	q.count(&p.StoredPost, func(n *snap.PostCount) { n.Settle(state, p.Clears) })
	shown := state
	if state == "lost" && reason == "" || state == "delivered" && p.Syslog && c.overUDP(&p) {
		shown = "sent" // a card never learns what becomes of a datagram
	}
	q.done = append(q.done, snap.PostLine{ID: p.ID, Kind: p.kind(), To: p.To, Event: p.Event, Made: p.made, Tries: p.tries, At: now, State: shown, Text: reason})
	q.done = slices.Clone(q.done[max(0, len(q.done)-remembered):])
	text := fmt.Sprintf("%d to %s: %s", p.ID, p.To, state)
	if reason != "" && shown != "sent" {
		text += ": " + reason
	}
	c.note(p.kind().String(), text)
	if state == "rejected" || state == "expired" || state == "dropped" {
		c.journal.add(now, p.kind().String()+" "+text)
		if !p.Syslog {
			c.Hear(snap.EventUndelivered, 0, true, p.kind().String()+" "+text)
		}
	}
	c.keepPosts()
}

func (c *Card) postDeadline(now vtime.Tick) vtime.Tick {
	q, next := c.alerts.queue.at, vtime.Never
	if q == nil {
		return next
	}
	for i := range q.posts {
		p := &q.posts[i]
		if p.flying {
			continue
		}
		next = min(next, p.made+c.inForce.Alerting().Mail.Expiry)
		if l := q.way(p); !l.busy && c.address.now.Reachable() {
			next = min(next, max(p.next, l.next, c.startedAt+settling, now+1, c.Waiting(now)))
		}
	}
	return next
}
