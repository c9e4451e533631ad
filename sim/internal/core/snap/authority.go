package snap

import (
	"slices"
	"strings"

	"ridethrough/sim/internal/core/vtime"
)

// Authority is what knows users and their passwords.
type Authority string

// Authorities.
const (
	Local    Authority = "local"    // the card's own accounts
	Key      Authority = "key"      // a public key of one of them
	Fallback Authority = "fallback" // the card's own accounts, because no server answered
	RADIUS   Authority = "radius"
	LDAP     Authority = "ldap"
	Nobody   Authority = "nobody" // no server answered, and nobody else was asked
)

// Own says whether a is the card itself.
func (a Authority) Own() bool { return a == Local || a == Key || a == Fallback }

// SignInOrder says who is asked, one after the other: names of authorities with
// hyphens between.
type SignInOrder string

// SignInOrders are those that can be set.
func SignInOrders() []SignInOrder {
	return []SignInOrder{"local", "radius", "ldap", "local-radius", "local-ldap", "radius-ldap", "ldap-radius"}
}

// RoleAttribute is the attribute of RADIUS that holds the role.
type RoleAttribute string

// Attributes: that of RFC 2865 section 5.11 with the word of the role, and that of
// section 5.6 with Administrative-User or NAS-Prompt-User.
const (
	FilterID    RoleAttribute = "filter-id"
	ServiceType RoleAttribute = "service-type"
)

// RoleWord is the word of a role, as it is set.
type RoleWord string

// Role is the role.
func (w RoleWord) Role() Role {
	r, _ := RoleByName(string(w))
	return r
}

// RADIUSServer is one server (RFC 2865). Tries are made one after the other, each
// with Timeout.
type RADIUSServer struct {
	Name, Address string // host and port
	Secret        Secret
	Timeout       vtime.Tick
	Tries         int
	// Authenticated: an answer counts only with a Message-Authenticator (RFC 3579
	// section 3.2).
	Authenticated bool
}

// LDAPMode is how the connection to a server is protected. Nothing is sent in clear.
type LDAPMode string

// Modes.
const (
	StartTLS LDAPMode = "starttls"
	LDAPS    LDAPMode = "ldaps"
)

// LDAPServer is one server (RFC 4511). Fingerprint is the SHA-256 of the certificate
// that the server shows, or of one that has signed it, in hexadecimal.
type LDAPServer struct {
	Name, Address string
	Mode          LDAPMode
	Fingerprint   string
	BindDN        string // who searches; empty: anonymously
	BindPassword  Secret
	Base          string // where users are searched
	UserAttribute string
	// Groups whose members have that role, by distinguished name; empty: none.
	Administrators, Operators, Viewers string
	Timeout                            vtime.Tick
}

// PublicKey lets a user of an account in over SSH. Line is its type and itself, as in
// a list of authorised keys.
type PublicKey struct{ Name, User, Line string }

// Answer is how an authority answered.
type Answer uint8

// Answers.
const (
	AnswerSilent   Answer = iota // it did not answer, or not so that it could be trusted
	AnswerUnknown                // it is the card, and has no such user
	AnswerRejected               // wrong, or there is no such user
	AnswerAccepted
)

// Verdict is what came of asking authorities.
type Verdict struct {
	OK   bool
	Role Role // that the authority gives; the card's own accounts have theirs
	From Authority
}

// Asks are the authorities that are asked, in order.
func (r *SignInRules) Asks() (list []Authority) {
	for _, word := range strings.Split(string(r.Order), "-") {
		list = append(list, Authority(word))
	}
	return list
}

// Decide asks one authority after the other until one accepts or rejects. Where the
// servers are silent the card's own accounts are asked if that is wanted; never
// where one rejects.
func (r *SignInRules) Decide(ask func(Authority) (Answer, Role)) Verdict {
	order := r.Asks()
	last := Local
	for _, a := range order {
		outcome, role := ask(a)
		switch outcome {
		case AnswerAccepted:
			return Verdict{OK: true, Role: role, From: a}
		case AnswerRejected:
			return Verdict{From: a}
		case AnswerSilent:
			last = Nobody
		}
	}
	if last == Nobody && r.Fallback && !slices.Contains(order, Local) {
		outcome, role := ask(Local)
		return Verdict{OK: outcome == AnswerAccepted, Role: role, From: Fallback}
	}
	return Verdict{From: last}
}

// Ask is what the card's own accounts make of a password.
func (c *Card) Ask(user, password string) (Answer, Role) {
	right, a := c.SignIn(user, password), c.Account(user)
	switch {
	case a == nil:
		return AnswerUnknown, NoRole
	case right:
		return AnswerAccepted, a.Role
	}
	return AnswerRejected, NoRole
}
