package plan

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// TimeServer is a time server of the site.
type TimeServer struct {
	Name    string
	Address netip.Addr
	Silent  bool
	WrongBy vtime.Tick // how far its date is ahead of the true one
	Delay   vtime.Tick // from the question to the answer
	Stratum int        // RFC 5905: 16 if it is not synchronised itself
	Group   int        // outlet group that feeds it; -1: it always has power
}

// TimeChange is what a timeline entry makes of a time server.
type TimeChange struct {
	Server  int
	Answers *bool
	WrongBy *vtime.Tick
	Stratum *int
}
