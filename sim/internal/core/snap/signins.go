package snap

import "ridethrough/sim/internal/core/vtime"

// SignInEnd is how a sign-in ended.
type SignInEnd uint8

// Ends.
const (
	SignInNone SignInEnd = iota // there was none
	SignInWaits
	SignInAccepted
	SignInMustChange // accepted, and nothing but another password is taken
	SignInWrong      // user name or password
	SignInLocked     // locked out
	SignInNoRole
	SignInNoAnswer // of any server
	SignInFull     // too many sessions
	SignInNoCard   // the card does not answer there
	SignInNobody   // nobody was asked: the line was in a session that somebody left
)

// String is a word for e; conditions use it.
func (e SignInEnd) String() string {
	return nameOf([]string{"none", "waiting", "accepted", "must-change", "wrong", "locked-out", "no-role", "no-answer", "full", "no-card", "not-asked"}, int(e))
}

// SignIns is the truth about who tried to sign in so far. Last and Took are about the
// latest of the timeline.
type SignIns struct {
	Accepted, Refused int
	Fallback          int32 // accepted because no server answered
	Lockouts          int32
	Unattended        int32 // sessions now whose people of the timeline have gone
	Last              SignInEnd
	Took              vtime.Tick
}
