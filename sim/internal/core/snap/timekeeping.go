package snap

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

// TimeSettings are how the card keeps its clock right.
type TimeSettings struct {
	// ByHand: nobody is asked.
	ByHand   bool
	Servers  []TimeServer // asked together
	Interval vtime.Tick   // between two rounds of asking
	Step     vtime.Tick   // a clock that is further off is set, another is slewed
	Limit    vtime.Tick   // a server that is further off the clock is not believed; 0: any is
}

// TimeServer is one server of the network time protocol.
type TimeServer struct {
	Name    string
	Address netip.Addr
}

// DefaultTime is what a card from the factory has. The limit is PANICT of RFC 5905
// (1000 s) in whole minutes; the others are ours.
func DefaultTime() TimeSettings {
	return TimeSettings{Interval: 15 * vtime.Minute, Step: vtime.Second, Limit: 17 * vtime.Minute}
}

func (t TimeSettings) clone() TimeSettings {
	t.Servers = append([]TimeServer(nil), t.Servers...)
	return t
}

// TimeQuery is one question to a time server.
type TimeQuery struct {
	Server netip.Addr
	Round  int // comes back with the reply
}

// TimeReply is what came of a [TimeQuery].
type TimeReply struct {
	Server  netip.Addr `json:"server"`
	Round   int        `json:"round"`
	Date    Stamp      `json:"date"`    // of the server when its answer came in
	Stratum int        `json:"stratum"` // 1 to 15; 0 or 16: it is not synchronised itself (RFC 5905)
	Failed  string     `json:"failed,omitempty"`
}

// TimeState is what the card makes of its servers. It never changes once it is in
// a [Card].
type TimeState struct {
	NextAt  vtime.Tick // when it asks again; Never
	Checked vtime.Tick // when a server last agreed; Never
	Servers []TimeServerState
}

// TimeServerState is how one server did when it was last asked.
type TimeServerState struct {
	TimeServer
	Trust  Trust
	Off    vtime.Tick // how far it was ahead of the card's clock, if it answered
	Reason string     // why it is not believed
}

// Trust says what the card makes of a server.
type Trust uint8

// Trusts.
const (
	TrustUnasked Trust = iota
	TrustTaken         // the clock goes by it
	TrustAgrees        // it agrees with those
	TrustRejected
	TrustSilent
)

// String is a word for t.
func (t Trust) String() string {
	return nameOf([]string{"not asked yet", "taken", "agrees", "rejected", "silent"}, int(t))
}
