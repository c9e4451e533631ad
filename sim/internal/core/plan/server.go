package plan

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// ServerKind says what a server of the site is for.
type ServerKind string

// Kinds of servers.
const (
	ServerMail   ServerKind = "mail"
	ServerSyslog ServerKind = "syslog"
	ServerNames  ServerKind = "names" // of the DNS
	ServerSNMP   ServerKind = "snmp"  // a receiver of notifications
)

// ServerAnswer is what a server says to everybody.
type ServerAnswer string

// Answers.
const (
	AnswerAccept ServerAnswer = "accept"
	AnswerDefer  ServerAnswer = "defer"  // 4xx
	AnswerRefuse ServerAnswer = "refuse" // 5xx
	AnswerSilent ServerAnswer = "silent"
)

// Server is one that the card sends to, or asks.
type Server struct {
	Name    string // in the scenario
	Kind    ServerKind
	Address netip.Addr
	DNSName string // empty: it has none
	Port    uint16
	Host    int   // on which it runs; -1: always somewhere
	Groups  []int // that have to be live, for itself and for the way there

	Answer    ServerAnswer
	Takes     vtime.Tick // from the first octet to its answer
	TLS       string     // "good", "old" or "none"
	SignIn    string     // "accept" or "refuse"
	Unknown   []string   // addresses that it does not know
	Senders   []string   // domains that it takes mail from; none: any
	Greylists vtime.Tick // how long it defers an address that it sees for the first time
}

// ServerChange is what a timeline entry makes of one.
type ServerChange struct {
	Server int
	Answer ServerAnswer // "" stays
	Takes  *vtime.Tick
	TLS    string // "" stays
	SignIn string // "" stays
}

// PostOutcome is what an attempt comes to at a modelled server.
type PostOutcome struct {
	Outcome snap.Outcome
	// Answered says that there was an answer: the server is there.
	Answered bool
	Reason   string
}
