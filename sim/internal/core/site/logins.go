package site

import (
	"fmt"
	"net/netip"
	"slices"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// logins are the sign-ins of the timeline and the servers that they are put to. What
// servers and passwords come to is modelled here; what follows is the card's.
type logins struct {
	servers []plan.ServerIs
	waiting []attempt
	staying []stay
	silent  snap.Silence
	last    snap.SignInEnd
	took    vtime.Tick
}

// attempt is a sign-in that waits for servers.
type attempt struct {
	due     vtime.Tick
	took    vtime.Tick
	command snap.Command
	try     *plan.SignIn
}

func newLogins(p *plan.Plan) *logins {
	l := &logins{}
	for _, s := range p.LoginServers {
		l.servers = append(l.servers, s.Is)
	}
	return l
}

// deadline is when the next server answers, or is waited for no longer.
func (l *logins) deadline() vtime.Tick {
	next := vtime.Never
	for i := range l.waiting {
		next = min(next, l.waiting[i].due)
	}
	for i := range l.staying {
		next = min(next, l.staying[i].due)
	}
	return next
}

// trySignIn begins what somebody does at the card.
func (s *Site) trySignIn(now vtime.Tick, try *plan.SignIn) {
	by := snap.Actor{Surface: try.Surface, User: try.User, Peer: try.From}
	for range try.Times {
		if !s.answersOver(try.Surface) {
			s.logins.last, s.logins.took = snap.SignInNoCard, 0
			s.says(snap.What{Kind: snap.WhatSignIn}, "sign-in", try.User+" over "+try.Surface+": the card does not answer")
			return
		}
		if !s.letsIn(now, try) {
			s.logins.last, s.logins.took = snap.SignInNoCard, 0
			s.says(snap.What{Kind: snap.WhatSignIn}, "sign-in", try.User+" over "+try.Surface+": the card closes the connection")
			s.touch()
			return
		}
		if x := s.leftOpen(); x != nil && try.Surface == "serial" {
			s.logins.last, s.logins.took = snap.SignInNobody, 0
			s.note("sign-in", try.User+" over serial: is in the session of "+x.by.User+", and not asked")
			s.touch()
			return
		}
		d := s.cardView()
		if d.Card.LockedFor(by.User, by.Surface, now) > 0 {
			s.signIn(now, snap.Command{Op: snap.OpSignIn, By: by}, try, 0)
			continue
		}
		verdict, took := s.verdict(now, d, try)
		by.Role = verdict.Role
		c := snap.Command{Op: snap.OpSignIn, By: by, OK: verdict.OK, Text: string(verdict.From)}
		if took == 0 {
			s.signIn(now, c, try, 0)
			continue
		}
		s.logins.last = snap.SignInWaits
		s.touch()
		s.logins.waiting = append(s.logins.waiting, attempt{due: now + took, took: took, command: c, try: try})
	}
}

func (s *Site) answersOver(surface string) bool {
	return s.card.Running() && (surface == "serial" || s.card.Reachable())
}

// letsIn says whether the access list lets somebody come to a sign-in, who is there
// under an address.
func (s *Site) letsIn(now vtime.Tick, try *plan.SignIn) bool {
	from, err := netip.ParseAddr(try.From)
	return err != nil || try.Surface != "ssh" || s.onList(now, "ssh", from)
}

// cardView is the card as it is now, with its accounts.
func (s *Site) cardView() *snap.Device {
	var d snap.Device
	s.card.View(&d)
	return &d
}

// runLogins ends the waiting that is over.
func (s *Site) runLogins(now vtime.Tick) {
	if s.logins.deadline() > now {
		return
	}
	s.runStays(now)
	var left []attempt
	for _, a := range s.logins.waiting {
		if a.due > now {
			left = append(left, a)
		} else if s.answersOver(a.command.By.Surface) {
			s.signIn(now, a.command, a.try, a.took)
		} else {
			s.logins.last, s.logins.took = snap.SignInNoCard, a.took
		}
	}
	s.logins.waiting = left
	s.touch()
}

// signIn puts a sign-in to the card.
func (s *Site) signIn(now vtime.Tick, c snap.Command, try *plan.SignIn, took vtime.Tick) {
	r := s.card.SignIn(now, c)
	s.logins.took = took
	if r.Status == snap.Done {
		x := s.cardView().Card.Session(r.Session)
		s.logins.last = snap.SignInAccepted
		if x != nil && x.MustChange {
			s.logins.last = snap.SignInMustChange
		}
		c.By.Session, c.By.Role = r.Session, r.Role
		s.stays(now, c.By, try)
		return
	}
	s.logins.last = s.card.WhyRefused()
	s.touch()
}

// verdict is what the authorities make of a sign-in, and how long they take. Silent
// servers are left out from when they were given up.
func (s *Site) verdict(now vtime.Tick, d *snap.Device, try *plan.SignIn) (v snap.Verdict, took vtime.Tick) {
	rules, silent := d.Card.Settings.SignInRules(), s.logins.silent.In(d.Card.StartedAt)
	v = rules.DecideSparing(func(a snap.Authority, spare bool) (answer snap.Answer, role snap.Role, spared bool) {
		if a == snap.Local {
			answer, role = askCard(&d.Card, try)
			return answer, role, false
		}
		for _, q := range s.questions(rules, a, try) {
			if spare && silent.Holds(now, q.server) {
				spared = true
				continue
			}
			answer, role, wait := q.ask()
			took += wait
			if answer != snap.AnswerSilent {
				silent.Note(now, q.server, 0)
				return answer, given(rules, role), spared
			}
			silent.Note(now, q.server, now+took+rules.DeadTime)
		}
		return snap.AnswerSilent, snap.NoRole, spared
	})
	return v, took
}

// question is a sign-in put to one server.
type question struct {
	server string
	ask    func() (snap.Answer, snap.Role, vtime.Tick)
}

func (s *Site) questions(rules *snap.SignInRules, a snap.Authority, try *plan.SignIn) (list []question) {
	if a == snap.RADIUS {
		for i := range rules.RADIUS {
			x := &rules.RADIUS[i]
			list = append(list, question{x.AsSet(), func() (snap.Answer, snap.Role, vtime.Tick) { return s.askRADIUS(x, try) }})
		}
		return list
	}
	for i := range rules.LDAP {
		x := &rules.LDAP[i]
		list = append(list, question{x.AsSet(), func() (snap.Answer, snap.Role, vtime.Tick) { return s.askLDAP(x, try) }})
	}
	return list
}

func given(rules *snap.SignInRules, r snap.Role) snap.Role {
	if r == snap.NoRole {
		return rules.Default.Role()
	}
	return r
}

// askCard is what the card's own accounts make of it.
func askCard(c *snap.Card, try *plan.SignIn) (snap.Answer, snap.Role) {
	a := c.Account(try.User)
	switch {
	case a == nil:
		return snap.AnswerUnknown, snap.NoRole
	case try.Types == "own", try.Types == "label" && a.Label:
		return snap.AnswerAccepted, a.Role
	}
	return snap.AnswerRejected, snap.NoRole
}

// askRADIUS is what a server makes of it. One that is not there, does not share the
// secret or answers so that it is not believed costs every try its time-out.
func (s *Site) askRADIUS(set *snap.RADIUSServer, try *plan.SignIn) (snap.Answer, snap.Role, vtime.Tick) {
	i, cfg := s.loginServer(set.Address)
	silence := set.Timeout * vtime.Tick(set.Tries)
	switch {
	case cfg == nil, s.logins.servers[i] == plan.Down, cfg.Answers > set.Timeout,
		cfg.Secret != "" && cfg.Secret != set.Secret.Reveal():
		return snap.AnswerSilent, snap.NoRole, silence
	case s.logins.servers[i] == plan.Strange && set.Authenticated:
		return snap.AnswerSilent, snap.NoRole, cfg.Answers * vtime.Tick(set.Tries)
	}
	ok, took := s.exchange("radius", outward, int(set.Tries), set.Timeout, cfg.Answers, func() {})
	if !ok {
		return snap.AnswerSilent, snap.NoRole, took
	}
	outcome, role := known(cfg, try)
	return outcome, role, took
}

// askLDAP is what a directory makes of it. One that is not there costs the time-out;
// one with another certificate is given up at once.
func (s *Site) askLDAP(set *snap.LDAPServer, try *plan.SignIn) (snap.Answer, snap.Role, vtime.Tick) {
	i, cfg := s.loginServer(set.Address)
	switch {
	case cfg == nil, s.logins.servers[i] == plan.Down, cfg.Answers > set.Timeout:
		return snap.AnswerSilent, snap.NoRole, set.Timeout
	case s.logins.servers[i] == plan.Strange:
		return snap.AnswerSilent, snap.NoRole, cfg.Answers
	}
	late, ok := s.overTCP("ldap", segmentsLDAP)
	if !ok || cfg.Answers+late > set.Timeout {
		return snap.AnswerSilent, snap.NoRole, set.Timeout
	}
	s.showCard(s.now, snap.KeyLDAP(set.Name), s.dateOf(cfg.Expires))
	outcome, role := known(cfg, try)
	return outcome, role, cfg.Answers + late
}

func known(cfg *plan.LoginServer, try *plan.SignIn) (snap.Answer, snap.Role) {
	role, ok := cfg.Users[try.User]
	if !ok || try.Types != "own" {
		return snap.AnswerRejected, snap.NoRole
	}
	return snap.AnswerAccepted, role
}

// loginServer is the server at an address, nil if there is none, or no packets pass
// between it and the card.
func (s *Site) loginServer(at string) (int, *plan.LoginServer) {
	i := slices.IndexFunc(s.plan.LoginServers, func(x plan.LoginServer) bool { return x.At == at })
	if i < 0 || !s.card.Reachable() {
		return 0, nil
	}
	if to, err := netip.ParseAddrPort(at); err != nil || !s.passes(to.Addr()) {
		return 0, nil
	}
	return i, &s.plan.LoginServers[i]
}

// changeAccount does what an administrator of the site does. The password that
// somebody chooses is not modelled: nobody can type it over a real surface.
func (s *Site) changeAccount(now vtime.Tick, x *plan.AccountChange) {
	a := snap.Account{User: x.User, Role: x.Role}
	if x.Do == snap.AccountAdd || x.Do == snap.AccountPassword {
		a = a.Modelled()
	}
	by := snap.Actor{Surface: "bench", User: x.User}
	if r := s.card.ChangeAccount(now, snap.Command{Op: snap.OpAccount, By: by, Text: x.Do, Account: &a}); r.Status != snap.Done {
		s.note("account", fmt.Sprintf("%s %s refused: %s", x.Do, x.User, r.Reason))
	}
}

func (s *Site) setLoginServer(i int, is plan.ServerIs) {
	s.logins.servers[i] = is
	s.noteOnce("bench", "server "+s.plan.LoginServers[i].Name+" "+string(is))
}
