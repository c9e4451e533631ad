package card

import (
	"fmt"
	"slices"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

const (
	// strangers bounds the failed sign-ins that are kept of users without an account.
	strangers = 32
	// toldAMinute is how many failed sign-ins the journal names in a minute; of more
	// it has the number.
	toldAMinute = 10
)

// logins is who is signed in and who tried to be.
type logins struct {
	sessions []snap.Session
	lockouts []snap.Lockout
	counts   snap.SignIns
	why      snap.SignInEnd // of the latest that was refused
	last     uint32         // number of the latest session
	failed   []failed

	window vtime.Tick // when the present minute of failed sign-ins began
	told   int        // of them, in the journal
	untold int
	locked int // of them, lock-outs of strangers beyond those told
}

// failed are the failed sign-ins of one user in a row.
type failed struct {
	user   string
	serial bool
	count  int
	at     vtime.Tick // the last
}

// SignIn answers a sign-in that was tried: with a session, or why there is none.
func (c *Card) SignIn(now vtime.Tick, cmd snap.Command) snap.Result {
	by := cmd.By
	authority := snap.Authority(cmd.Text)
	if authority == "" {
		authority = snap.Local
	}
	s := snap.Session{User: by.User, Role: by.Role, Surface: by.Surface, Peer: by.Peer, Authority: authority, Since: now}
	if why := c.bars(now, cmd, &s); why != "" {
		c.logins.own().counts.Refused++
		return snap.Result{Status: snap.Denied, Reason: why}
	}
	c.forgive(by)
	c.logins.own().counts.Accepted++
	if s.Authority == snap.Fallback {
		c.logins.own().counts.Fallback++
	}
	l := c.logins.own()
	l.last++
	s.ID = l.last
	l.sessions = append(slices.Clip(l.sessions), s)
	by.Role = s.Role
	c.told(now, snap.WhatSignIn, "sign-in", "accepted: "+who(by)+from(authority)+snap.Either(s.Expired, ", whose password has expired", ""))
	if authority == snap.Fallback {
		c.Hear(snap.EventEmergency, 0, true, who(by))
	}
	c.Hear(snap.EventSignIn, 0, true, who(by))
	return snap.Result{Session: s.ID, Role: s.Role}
}

// SignIns counts sign-ins so far; Last and Took are not in it.
func (c *Card) SignIns() snap.SignIns { return c.logins.get().counts }

// WhyRefused is why the latest sign-in was refused.
func (c *Card) WhyRefused() snap.SignInEnd { return c.logins.get().why }

// bars says why s does not begin, "" if it does. It fills in what the card knows of
// the user.
func (c *Card) bars(now vtime.Tick, cmd snap.Command, s *snap.Session) string {
	by := cmd.By
	if left := c.lockedFor(now, by); left > 0 {
		c.logins.own().why = snap.SignInLocked
		c.refuse(now, who(by)+": locked out")
		return lockedOut(left)
	}
	a := c.account(by.User)
	own := s.Authority.Own()
	if own && a != nil {
		s.Role, s.Expired = a.Role, s.Authority != snap.Key && c.expired(now, a)
		s.MustChange = a.MustChange || s.Expired
	}
	switch {
	case s.Authority == snap.Nobody:
		c.logins.own().why = snap.SignInNoAnswer
		c.refuse(now, who(by)+": no server answered")
		return "no sign-in server answered: try again later"
	case !cmd.OK || own && a == nil:
		return c.fail(now, by, from(s.Authority))
	case s.Role == snap.NoRole:
		c.logins.own().why = snap.SignInNoRole
		c.refuse(now, who(by)+from(s.Authority)+": no role on this card")
		return "this user has no role on this card"
	case by.Surface == "serial":
		c.takeOver(now, s)
	case c.inForce.SignInRules().OneAdministrator && s.Role == snap.Administrator && c.administers() != nil:
		c.logins.own().why = snap.SignInFull
		c.refuse(now, who(by)+": one administrator at a time")
		return alreadyIn(c.administers(), now)
	case c.networked() >= c.inForce.SignInRules().Sessions:
		c.logins.own().why = snap.SignInFull
		c.refuse(now, who(by)+": too many sessions")
		return fmt.Sprintf("%d are signed in over the network, which is as many as may be", c.networked())
	}
	return ""
}

// takeOver ends what stands in the way of s, at the serial line: who was on it, for it
// is one plug, and of whom there may be one alone the other.
func (c *Card) takeOver(now vtime.Tick, s *snap.Session) {
	c.end(func(x *snap.Session) bool { return x.Surface == "serial" })
	if !c.inForce.SignInRules().OneAdministrator || s.Role != snap.Administrator {
		return
	}
	for x := c.administers(); x != nil; x = c.administers() {
		by := snap.Actor{Surface: x.Surface, User: x.User, Peer: x.Peer, Session: x.ID}
		c.SignOut(now, by, "the serial line took over")
	}
}

// administers is an administrator who is signed in, nil if there is none.
func (c *Card) administers() *snap.Session {
	for i, x := range c.logins.get().sessions {
		if x.Role == snap.Administrator {
			return &c.logins.get().sessions[i]
		}
	}
	return nil
}

// alreadyIn tells a second administrator of the first.
func alreadyIn(x *snap.Session, now vtime.Tick) string {
	where := "at the serial line"
	if x.Surface != "serial" {
		where = "over " + x.Surface + " from " + x.Peer
	}
	return fmt.Sprintf("%s has been signed in %s for %d s, and one administrator may be at a time", x.User, where, (now-x.Since)/vtime.Second)
}

func lockedOut(left vtime.Tick) string {
	return fmt.Sprintf("too many failed sign-ins: try again in %d s", (left+vtime.Second-1)/vtime.Second)
}

// from names an authority that is not the card's own accounts.
func from(a snap.Authority) string {
	switch a {
	case snap.Local:
		return ""
	case snap.Key:
		return ", by public key"
	case snap.Fallback:
		return ", by the card itself: no server answered"
	}
	return ", by " + string(a)
}

// NotIt counts a wrong present password, which somebody types who wants to change
// it, like a failed sign-in: an open session is no place to guess. The one that is
// locked out for it ends, and is told so with Denied.
func (c *Card) NotIt(now vtime.Tick, by snap.Actor) snap.Result {
	if x := c.session(by.Session); x == nil || x.User != by.User {
		return snap.Result{Status: snap.Denied, Reason: "that session has ended: sign in again"}
	}
	if c.lockedFor(now, by) > 0 {
		return snap.Result{} // nobody looked at it
	}
	c.logins.own().counts.Refused++
	why := c.fail(now, by, ", who wants to change the password")
	if c.lockedFor(now, by) == 0 {
		return snap.Result{}
	}
	c.SignOut(now, by, "locked out")
	return snap.Result{Status: snap.Denied, Reason: why}
}

// fail counts a failed sign-in, and locks the user out after too many. How is what
// else there is to say of it.
func (c *Card) fail(now vtime.Tick, by snap.Actor, how string) string {
	rules := c.inForce.SignInRules()
	f := c.failedOf(now, by)
	f.count++
	f.at = now
	c.logins.own().why = snap.SignInWrong
	if f.count < rules.LockAfter {
		c.refuse(now, who(by)+how)
		return "user name or password is wrong"
	}
	f.count = 0
	c.logins.own().counts.Lockouts++
	l := snap.Lockout{User: by.User, Serial: by.Surface == "serial", Until: now + rules.LockFor}
	c.logins.own().lockouts = append(c.lockedAt(now), l)
	c.refuseLocked(now, by, who(by)+how+fmt.Sprintf(", %d times in a row: locked out for %s", rules.LockAfter, rules.LockFor.Duration()))
	return lockedOut(rules.LockFor)
}

// failedOf finds or makes the count for who tries. Users with an account keep theirs
// whatever strangers do; of the strangers the one who tried longest ago goes.
func (c *Card) failedOf(now vtime.Tick, by snap.Actor) *failed {
	list := &c.logins.own().failed
	oldest, n := -1, 0
	for i := range *list {
		f := &(*list)[i]
		if f.user == by.User && f.serial == (by.Surface == "serial") {
			return f
		}
		if c.account(f.user) == nil {
			if n++; oldest < 0 || f.at < (*list)[oldest].at {
				oldest = i
			}
		}
	}
	if n >= strangers {
		*list = slices.Delete(*list, oldest, oldest+1)
	}
	*list = append(*list, failed{user: by.User, serial: by.Surface == "serial", at: now})
	return &(*list)[len(*list)-1]
}

// lockedAt are the lock-outs that still hold, in a list of their own. It is bounded
// like the failed sign-ins are.
func (c *Card) lockedAt(now vtime.Tick) []snap.Lockout {
	var list []snap.Lockout
	n := 0
	for _, l := range slices.Backward(c.logins.get().lockouts) {
		if stranger := c.account(l.User) == nil; l.Until > now && (!stranger || n < strangers) {
			list = append(list, l)
			if stranger {
				n++
			}
		}
	}
	slices.Reverse(list)
	return list
}

func (c *Card) lockedFor(now vtime.Tick, by snap.Actor) vtime.Tick {
	d := snap.Card{Lockouts: c.logins.get().lockouts}
	return d.LockedFor(by.User, by.Surface, now)
}

// forgive forgets the failed sign-ins of who has now signed in.
func (c *Card) forgive(by snap.Actor) {
	l := c.logins.own()
	l.failed = slices.DeleteFunc(l.failed, func(f failed) bool {
		return f.user == by.User && f.serial == (by.Surface == "serial")
	})
}

// networked counts the sessions over the network.
func (c *Card) networked() (n int) {
	for _, s := range c.logins.get().sessions {
		if s.Surface != "serial" {
			n++
		}
	}
	return n
}

// SignOut ends a session.
func (c *Card) SignOut(now vtime.Tick, by snap.Actor, why string) snap.Result {
	if by.Session == 0 || c.session(by.Session) == nil {
		return snap.Result{} // it has ended already
	}
	c.end(func(x *snap.Session) bool { return x.ID == by.Session })
	if why != "" {
		why = ", " + why
	}
	c.told(now, snap.WhatElse, "sign-out", who(by)+why)
	return snap.Result{}
}

// end ends sessions. Lists that were handed out stay as they are.
func (c *Card) end(which func(*snap.Session) bool) {
	sessions := c.logins.get().sessions
	if len(sessions) == 0 {
		return
	}
	var left []snap.Session
	for i := range sessions {
		if x := &sessions[i]; !which(x) {
			left = append(left, *x)
		}
	}
	c.logins.own().sessions = left
}

func (c *Card) session(id uint32) *snap.Session {
	d := snap.Card{Sessions: c.logins.get().sessions}
	return d.Session(id)
}

// SignedIn says whether the session of that number is open.
func (c *Card) SignedIn(session uint32) bool { return c.session(session) != nil }

// SignInRules are those in force.
func (c *Card) SignInRules() *snap.SignInRules { return c.inForce.SignInRules() }

// Denies says why who gives cmd may not, "" if that person may.
func (c *Card) Denies(cmd *snap.Command) string {
	by, needs := cmd.By, cmd.Needs()
	if !by.Person() || needs == snap.NoRole {
		return ""
	}
	role := by.Role
	if by.Session != 0 {
		s := c.session(by.Session)
		switch {
		case s == nil || s.User != by.User:
			return "that session has ended: sign in again"
		case s.MustChange && !(cmd.Op == snap.OpAccount && needs == snap.Viewer):
			return "the password has to be changed first"
		}
		role = s.Role
	}
	if role < needs {
		return fmt.Sprintf("it takes the role %s, and %s has the role %s", needs, by.User, role)
	}
	return ""
}

// told puts one line into the trace and the journal.
func (c *Card) told(now vtime.Tick, what snap.WhatKind, subject, text string) {
	c.says(snap.What{Kind: what}, subject, text)
	c.journal.add(now, subject+" "+text)
}

// refuse tells of a refused sign-in, as long as there are not too many of them: a
// flood would push out everything else.
func (c *Card) refuse(now vtime.Tick, text string) {
	l := c.logins.own()
	if now-l.window >= vtime.Minute || l.told == 0 {
		c.summarise(now)
		l.window = now
	}
	if l.told == toldAMinute {
		l.untold++
		return
	}
	l.told++
	c.refused(now, text)
}

// refuseLocked tells of a lock-out, however many refused sign-ins there were: who asks
// why somebody cannot get in has to find it. Of strangers it tells of as many in a
// minute as are kept of them: anybody can make up names.
func (c *Card) refuseLocked(now vtime.Tick, by snap.Actor, text string) {
	l := c.logins.own()
	if now-l.window >= vtime.Minute || l.told < toldAMinute {
		c.refuse(now, text)
		return
	}
	if c.account(by.User) == nil {
		if l.locked == strangers {
			l.untold++
			return
		}
		l.locked++
	}
	c.refused(now, text)
}

// refused tells of a refused sign-in.
func (c *Card) refused(now vtime.Tick, text string) {
	c.told(now, snap.WhatSignIn, "sign-in", "refused: "+text)
	c.Hear(snap.EventRefused, 0, true, text)
}

// summarise tells how many refused sign-ins were left out.
func (c *Card) summarise(now vtime.Tick) {
	l := c.logins.own()
	if l.untold > 0 {
		c.told(now, snap.WhatSignIn, "sign-in", fmt.Sprintf("refused: %d more within a minute", l.untold))
	}
	l.told, l.untold, l.locked = 0, 0, 0
}

// loginsDue is when a summary falls due.
func (c *Card) loginsDue() vtime.Tick {
	if l := c.logins.at; l != nil && l.untold > 0 {
		return l.window + vtime.Minute
	}
	return vtime.Never
}
