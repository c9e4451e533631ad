package plan

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ServerIs is how a server for sign-ins does.
type ServerIs string

// How servers do.
const (
	Answering ServerIs = "answering"
	Down      ServerIs = "down"
	Strange   ServerIs = "strange" // it answers, but not so that it can be trusted
)

// LoginServer is a server that knows users, as it truly is.
type LoginServer struct {
	Name, At string // At is address and port
	Is       ServerIs
	Answers  vtime.Tick // how long it takes
	Secret   string     // "" is the card's
	Users    map[string]snap.Role
	Expires  vtime.Tick // when the certificate of an LDAP server expires; Never: nobody knows
}

// SignIn is somebody who signs in, Times in a row. Types is "own", "label" or
// "wrong". Who gets in stays for Stays, and then does Then.
type SignIn struct {
	User, Types, Surface, From string
	Times                      int
	Stays                      vtime.Tick
	Then                       Leaving
}

// Leaving is how somebody leaves a session.
type Leaving string

// How people leave.
const (
	SignsOut  Leaving = "signs-out"
	WalksAway Leaving = "walks-away" // the terminal stays as it is
	PullsLead Leaving = "pulls-lead" // or closes the terminal program
)

// AccountChange is what an administrator does with an account: Do is one of the verbs
// of [snap.Command].
type AccountChange struct {
	User, Do string
	Role     snap.Role
}
