package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// stay is somebody of the timeline who is signed in at the card.
type stay struct {
	by   snap.Actor
	then plan.Leaving
	due  vtime.Tick // that they leave, or that the card has waited for a key for long enough
	gone bool       // nobody is there any more
}

// stays begins what follows a sign-in that was accepted.
func (s *Site) stays(now vtime.Tick, by snap.Actor, try *plan.SignIn) {
	if try.Stays == 0 && try.Then == plan.SignsOut {
		s.card.SignOut(now, by, "")
		return
	}
	s.logins.staying = append(s.logins.staying, stay{by: by, then: try.Then, due: now + try.Stays})
	s.runStays(now)
}

// runStays has people leave whose time has come, and ends sessions that were idle. Of
// sessions that the card has ended itself nothing is left.
func (s *Site) runStays(now vtime.Tick) {
	var left []stay
	for _, x := range s.logins.staying {
		if !s.card.SignedIn(x.by.Session) {
			continue
		}
		if x.due <= now && !s.departs(now, &x) {
			continue
		}
		left = append(left, x)
	}
	s.logins.staying = left
}

// departs is what becomes of a session when its time has come; it says whether it lasts.
func (s *Site) departs(now vtime.Tick, x *stay) bool {
	rules := s.card.SignInRules()
	switch {
	case x.gone:
		s.card.SignOut(now, x.by, "nothing was typed")
	case x.then == plan.SignsOut:
		s.card.SignOut(now, x.by, "")
	case x.then == plan.PullsLead && !(x.by.Surface == "serial" && rules.SerialStays):
		s.card.SignOut(now, x.by, "the line was closed")
	default:
		s.note("sign-in", x.by.User+" over "+x.by.Surface+": gone, and still signed in")
		x.gone, x.due = true, now+rules.Idle
		s.touch()
		return true
	}
	s.touch()
	return false
}

// leftOpen is who is gone and still signed in at the serial line, nil if nobody is.
func (s *Site) leftOpen() *stay {
	for i := range s.logins.staying {
		if x := &s.logins.staying[i]; x.gone && x.by.Surface == "serial" && s.card.SignedIn(x.by.Session) {
			return x
		}
	}
	return nil
}

// unattended counts the sessions of people who have gone.
func (l *logins) unattended(in func(session uint32) bool) (n int32) {
	for i := range l.staying {
		if l.staying[i].gone && in(l.staying[i].by.Session) {
			n++
		}
	}
	return n
}
