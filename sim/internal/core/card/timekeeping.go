package card

import (
	"fmt"
	"slices"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// How the card asks. Retry is the shortest poll that RFC 5905 has for clients at
// rest (MINPOLL, 2^6 s); the others are ours.
const (
	timeFirst   = 2 * vtime.Second  // after the start of the agent
	timeRetry   = 64 * vtime.Second // after a round without an answer, then twice as long each time
	timePatient = 5 * vtime.Second  // for the answers of a round
	timeAgree   = vtime.Second      // servers that are no further apart agree
)

// No server may set a clock to before the card was made, or to when nobody will
// have it any more. The dates are ours.
var (
	timeEarliest = snap.StampOf(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC))
	timeLatest   = snap.StampOf(time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC))
)

// timekeeper asks time servers and keeps the clock by what they say.
type timekeeper struct {
	round   int
	askAt   vtime.Tick // next round; Never
	endAt   vtime.Tick // of the running round; Never: none runs
	failed  int        // rounds in a row that came to nothing
	heard   []answer   // of the running round, one for each server
	checked vtime.Tick // when a round last came to something; Never
	state   *snap.TimeState
}

// answer is what one server said in a round.
type answer struct {
	snap.TimeServerState
	asked, in bool
	diff      vtime.Tick
}

func newTimekeeper() timekeeper {
	return timekeeper{askAt: vtime.Never, endAt: vtime.Never, checked: vtime.Never}
}

func (k *timekeeper) deadline() vtime.Tick { return min(k.askAt, k.endAt) }

// begin plans the first round, after a start or when servers were set.
func (k *timekeeper) begin(now vtime.Tick, s *snap.TimeSettings) {
	k.askAt, k.endAt, k.failed = vtime.Never, vtime.Never, 0
	if !s.ByHand && len(s.Servers) > 0 {
		k.askAt = now + timeFirst
	}
	k.show(s)
}

// show makes what the surfaces see anew.
func (k *timekeeper) show(s *snap.TimeSettings) {
	if k.state = nil; s.ByHand || len(s.Servers) == 0 {
		return
	}
	state := &snap.TimeState{NextAt: k.askAt, Checked: k.checked}
	for i, server := range s.Servers {
		row := snap.TimeServerState{TimeServer: server}
		if i < len(k.heard) && k.heard[i].TimeServer == server {
			row = k.heard[i].TimeServerState
		}
		state.Servers = append(state.Servers, row)
	}
	k.state = state
}

// keepTime asks and decides when that is due.
func (c *Card) keepTime(now vtime.Tick) {
	k := &c.time
	if k.endAt <= now || k.endAt != vtime.Never && k.complete() {
		c.decideTime(now)
	}
	if k.askAt > now {
		return
	}
	s := &c.inForce.Time
	c.stirred = true
	k.round++
	k.askAt, k.endAt, k.heard = vtime.Never, now+timePatient, make([]answer, len(s.Servers))
	for i, server := range s.Servers {
		k.heard[i].TimeServer = server
		k.heard[i].Trust, k.heard[i].Reason = snap.TrustSilent, "no answer"
		if c.address.now.Speaks(server.Address) {
			k.heard[i].asked = true
			c.queries = append(c.queries, snap.TimeQuery{Server: server.Address, Round: k.round})
		}
	}
}

// complete says whether everybody who was asked has answered.
func (k *timekeeper) complete() bool {
	return !slices.ContainsFunc(k.heard, func(a answer) bool { return a.asked && !a.in })
}

// TimeReply takes what a server said. One of another round comes too late.
func (c *Card) TimeReply(now vtime.Tick, r snap.TimeReply) {
	k := &c.time
	if k.endAt == vtime.Never || r.Round != k.round {
		return
	}
	for i := range k.heard {
		if a := &k.heard[i]; a.asked && !a.in && a.Address == r.Server {
			a.in = true
			a.Trust, a.Reason = snap.TrustRejected, r.Failed
			if r.Failed != "" {
				a.Trust = snap.TrustSilent
				return
			}
			a.diff = vtime.Tick(r.Date - c.clock.Stamp(now))
			a.Off, a.Reason = a.diff, c.absurd(&r, a.diff)
			return
		}
	}
}

// absurd says why nobody should believe a server, "" if one may.
func (c *Card) absurd(r *snap.TimeReply, diff vtime.Tick) string {
	limit := c.inForce.Time.Limit
	switch {
	case r.Stratum < 1 || r.Stratum > 15:
		return "it is not synchronised itself"
	case r.Date < timeEarliest || r.Date > timeLatest:
		return "its date is absurd"
	case c.clock.Set && limit > 0 && max(diff, -diff) > limit:
		return "it is further off than reach.time-limit"
	}
	return ""
}

// decideTime ends a round: the clock goes by the servers that agree, if they are
// more than any others that do.
func (c *Card) decideTime(now vtime.Tick) {
	k, s := &c.time, &c.inForce.Time
	c.stirred = true
	group := c.agreeing()
	k.endAt = vtime.Never
	if len(group) == 0 {
		k.askAt = now + min(timeRetry<<min(k.failed, 6), max(s.Interval, timeRetry))
		k.failed++
		c.sayTime(now)
		k.show(s)
		return
	}
	taken := &k.heard[group[(len(group)-1)/2]] // the median
	for _, i := range group {
		k.heard[i].Trust, k.heard[i].Reason = snap.TrustAgrees, ""
	}
	taken.Trust = snap.TrustTaken
	k.failed, k.checked, k.askAt = 0, now, now+s.Interval
	c.sayTime(now)
	c.correct(now, taken)
	k.show(s)
}

// agreeing are the servers to go by, in order of what they say; none if no choice
// is better than another.
func (c *Card) agreeing() []int {
	k := &c.time
	var fit []int
	for i := range k.heard {
		if a := &k.heard[i]; a.in && a.Reason == "" {
			fit = append(fit, i)
		}
	}
	slices.SortStableFunc(fit, func(i, j int) int { return int(k.heard[i].diff - k.heard[j].diff) })
	var best []int
	tied := false
	for i := range fit {
		n := i
		for n < len(fit) && k.heard[fit[n]].diff-k.heard[fit[i]].diff <= timeAgree {
			n++
		}
		switch group := fit[i:n]; {
		case len(group) > len(best):
			best, tied = group, false
		case len(group) == len(best) && !slices.Equal(group, best) && c.clock.Set:
			best = c.nearer(best, group)
		case len(group) == len(best):
			tied = true
		}
	}
	if tied {
		best = nil
	}
	for _, i := range fit {
		if !slices.Contains(best, i) {
			k.heard[i].Reason = "the servers disagree"
		}
	}
	return best
}

// nearer is the one of two groups whose middle is nearer to the clock.
func (c *Card) nearer(a, b []int) []int {
	off := func(group []int) vtime.Tick {
		d := c.time.heard[group[(len(group)-1)/2]].diff
		return max(d, -d)
	}
	if off(b) < off(a) {
		return b
	}
	return a
}

// correct brings the clock to what a server says.
func (c *Card) correct(now vtime.Tick, by *answer) {
	off, step := by.diff, c.inForce.Time.Step
	shown := c.clock.Stamp(now)
	if c.clock.Set && max(off, -off) <= step {
		c.clock.At, c.clock.Shown, c.clock.Slew, c.clock.From = now, shown, off, by.Name
		c.KeepClock(now)
		return
	}
	to := shown + snap.Stamp(off)
	was := c.clock.Set
	c.clock.step(now, to, by.Name)
	c.KeepClock(now)
	text := fmt.Sprintf("clock set by time server %s: %s", by.Name, moved(shown, to))
	if !was {
		text = fmt.Sprintf("clock set by time server %s for the first time", by.Name)
	}
	c.note("card", text)
	c.journal.add(now, text)
}

// sayTime journals which servers are not believed, once.
func (c *Card) sayTime(now vtime.Tick) {
	k := &c.time
	for i := range k.heard {
		a, before := &k.heard[i], ""
		if k.state != nil && i < len(k.state.Servers) && k.state.Servers[i].Name == a.Name {
			before = k.state.Servers[i].Reason
		}
		if a.Reason == before {
			continue
		}
		text := "time server " + a.Name + " is believed again"
		if a.Reason != "" {
			text = "time server " + a.Name + " is not believed: " + a.Reason
			if a.Trust == snap.TrustSilent {
				text = "time server " + a.Name + " is silent: " + a.Reason
			} else {
				text += ", " + moved(0, snap.Stamp(a.Off))
			}
		}
		c.note("card", text)
		c.journal.add(now, text)
	}
}

// Queries hands over what time servers have to be asked since the last call.
func (c *Card) Queries() []snap.TimeQuery {
	q := c.queries
	c.queries = nil
	return q
}

// Stirred says whether what the surfaces show has changed since the last call
// without anything that is noted.
func (c *Card) Stirred() bool {
	was := c.stirred
	c.stirred = false
	return was
}
