package snap

import (
	"slices"

	"ridethrough/sim/internal/core/vtime"
)

// Silence remembers which servers did not answer, so that not everybody who signs in
// has to wait for them anew. Its zero value remembers none.
type Silence struct {
	list []silence
	run  vtime.Tick
}

type silence struct {
	server string // as [RADIUSServer.AsSet] has it
	until  vtime.Tick
}

// In forgets all of it where the card has started anew: run is when it did.
func (s *Silence) In(run vtime.Tick) *Silence {
	if s.run != run {
		*s = Silence{run: run}
	}
	return s
}

// Holds says whether a server is to be left out at now.
func (s *Silence) Holds(now vtime.Tick, server string) bool {
	return slices.ContainsFunc(s.list, func(x silence) bool { return x.server == server && now < x.until })
}

// Note remembers until when a server is to be left out: not at all if that is not
// after now, as it is for one that has answered.
func (s *Silence) Note(now vtime.Tick, server string, until vtime.Tick) {
	s.list = slices.DeleteFunc(s.list, func(x silence) bool { return x.server == server || x.until <= now })
	if until > now {
		s.list = append(s.list, silence{server, until})
	}
}

// AsSet tells x from every other server and from itself with other settings, which
// may be why it seemed silent. It has the secret in it.
func (x *RADIUSServer) AsSet() string { return x.Address + "\n" + x.Secret.Reveal() }

// AsSet is the same for an LDAP server.
func (x *LDAPServer) AsSet() string {
	return x.Address + "\n" + string(x.Mode) + "\n" + x.Fingerprint + "\n" + x.BindDN + "\n" + x.BindPassword.Reveal()
}

// DecideSparing is [SignInRules.Decide] with silent servers left out, as ask is told
// to by spare; it says whether it left out any. Where nobody is left to decide they
// are asked all the same: nobody could get in else.
func (r *SignInRules) DecideSparing(ask func(a Authority, spare bool) (_ Answer, _ Role, spared bool)) Verdict {
	any := false
	v := r.Decide(func(a Authority) (Answer, Role) {
		answer, role, spared := ask(a, r.DeadTime > 0)
		any = any || spared
		return answer, role
	})
	if v.From != Nobody || !any {
		return v
	}
	return r.Decide(func(a Authority) (Answer, Role) {
		answer, role, _ := ask(a, false)
		return answer, role
	})
}
