package snap

import (
	"slices"
	"strings"

	"ridethrough/sim/internal/core/vtime"
)

// Session is somebody who is signed in.
type Session struct {
	ID         uint32 // from 1, never used again while the card's supply lasts
	User       string
	Role       Role
	Surface    string
	Peer       string
	Authority  Authority // what knew the user
	Since      vtime.Tick
	MustChange bool // nothing but another password is taken
	Expired    bool // because the password is older than is allowed
}

// Lockout is a user whom the card does not look at before Until. A lock-out over the
// network does not hold at the serial line, nor the other way round: who is at the
// card is not kept out by somebody far away.
type Lockout struct {
	User   string
	Serial bool
	Until  vtime.Tick
}

// Session is the one with that number, nil if it has ended.
func (c *Card) Session(id uint32) *Session {
	for i := range c.Sessions {
		if c.Sessions[i].ID == id {
			return &c.Sessions[i]
		}
	}
	return nil
}

// LockedFor is how long the user who signs in over surface is still locked out.
func (c *Card) LockedFor(user, surface string, now vtime.Tick) vtime.Tick {
	for _, l := range c.Lockouts {
		if l.User == user && l.Serial == (surface == "serial") {
			return max(l.Until-now, 0)
		}
	}
	return 0
}

// SignInRules are what is set for signing in.
type SignInRules struct {
	Idle          vtime.Tick // a session ends when nothing was typed for so long, in real time
	LockAfter     int        // failed sign-ins of one user in a row
	LockFor       vtime.Tick
	Sessions      int // over the network, at the same time
	PasswordLeast int // characters
	PasswordDays  int `json:",omitempty"` // that a password serves; 0: for ever
	// OneAdministrator lets in one administrator at a time, over all surfaces.
	OneAdministrator bool
	// SerialLock has the serial line take nobody else while somebody is signed in there.
	SerialLock bool
	// SerialStays leaves the session on the serial line signed in when it is unplugged.
	SerialStays bool
	Banner      string // for whoever is about to sign in, in lines with | between; see [SignInRules.Notice]

	Order    SignInOrder
	Fallback bool       // the card's own accounts are asked when no server answers
	DeadTime vtime.Tick // a server that was silent is left out for so long; 0: never
	RoleFrom RoleAttribute
	Default  RoleWord // of a user to whom a server gives none
	RADIUS   []RADIUSServer
	LDAP     []LDAPServer
	Keys     []PublicKey
}

// defaultSignIn is what a new card has. The numbers are common practice.
var defaultSignIn = SignInRules{Idle: 5 * vtime.Minute, LockAfter: 5, LockFor: 5 * vtime.Minute, Sessions: 4, PasswordLeast: 10,
	Order: "local", DeadTime: 2 * vtime.Minute, RoleFrom: FilterID, Default: "none"}

// SignInRules are those of s, or those of a new card if it has none. They may be
// changed in a clone only.
func (s *Settings) SignInRules() *SignInRules {
	if s.SignIn == nil {
		return &defaultSignIn
	}
	return s.SignIn
}

// Ends is until when the password of a serves; ok is false where it has no end, or nobody
// knows when it was set.
func (r *SignInRules) Ends(a *Account) (at Stamp, ok bool) {
	return a.Set + Stamp(r.PasswordDays)*Day, r.PasswordDays > 0 && a.Set != 0
}

// Notice is the banner in whole lines, empty if none is set.
func (r *SignInRules) Notice() string {
	if r.Banner == "" {
		return ""
	}
	lines := strings.Split(r.Banner, "|")
	for i := range lines {
		lines[i] = strings.TrimSpace(lines[i])
	}
	return strings.Join(lines, "\n") + "\n"
}

func (r *SignInRules) clone() *SignInRules {
	c := *r
	c.RADIUS, c.LDAP, c.Keys = slices.Clone(r.RADIUS), slices.Clone(r.LDAP), slices.Clone(r.Keys)
	return &c
}

// Verify asks the card's own accounts.
func (c *Card) Verify(user, password string) Verdict {
	v := Verdict{OK: c.SignIn(user, password), From: Local}
	if a := c.Account(user); v.OK && a != nil {
		v.Role = a.Role
	}
	return v
}
