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
	AnswerClosed ServerAnswer = "closed"   // nothing listens: connections are refused
	AnswerHangUp ServerAnswer = "hangs-up" // it takes the message and ends the connection before it says anything
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

	Expires vtime.Tick // when the certificate that it shows expires; Never: nobody knows

	// Sink has it keep what arrives, and a live session open a real one.
	Sink      bool
	Community string      // notifications of SNMPv1 and v2c under another one are refused; "": any will do
	Users     []snap.User // of SNMPv3, whose notifications are taken
	DropsPct  float64     // of what arrives, lost without a word
	Acks      Acks        // of informs
	Matches   []Match     // that are counted
}

// Acks is what a receiver does about informs.
type Acks string

// Acknowledgements.
const (
	AcksAll   Acks = "yes"
	AcksNever Acks = "never" // it takes them, and says nothing
	AcksWrong Acks = "wrong" // it acknowledges another one
)

// Match picks messages: those that have all the texts that are not empty, in
// whatever case. OID is that of a notification, or what it begins with.
type Match struct {
	Name, From, To, Subject, Text, OID string
}

// ServerChange is what a timeline entry makes of one.
type ServerChange struct {
	Server int
	Answer ServerAnswer // "" stays
	Takes  *vtime.Tick
	TLS    string // "" stays
	SignIn string // "" stays
	Drops  *float64
	Acks   Acks        // "" stays
	Renew  *vtime.Tick // it shows a certificate that expires so long after now
}

// PostOutcome is what an attempt comes to at a modelled server.
type PostOutcome struct {
	Outcome snap.Outcome
	// Answered says that there was an answer: the server is there.
	Answered bool
	Reason   string
	// Expires is when the certificate that the server has shown does; 0: it has shown
	// none with a date.
	Expires snap.Stamp
}
