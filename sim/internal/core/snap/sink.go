package snap

import "ridethrough/sim/internal/core/vtime"

// Bounds of what a sink keeps.
const (
	MaxArrivals    = 256  // messages, the latest
	MaxArrivalText = 4096 // bytes of the text of one
	MaxArrivalLine = 200  // bytes of its sender, its subject and each of its recipients
	MaxArrivalTo   = 16   // recipients of one
)

// Arrival is one message as it came to a sink, in virtual time or over a socket. It
// never changes once it is kept.
type Arrival struct {
	ID      uint64     `json:"id,omitempty"`    // among those of the sink, from 1
	At      vtime.Tick `json:"at_ms,omitempty"` // when it came
	From    string     `json:"from,omitempty"`  // of mail the envelope's sender; of syslog host and application; of SNMPv3 the user
	To      []string   `json:"to,omitempty"`    // of mail
	Subject string     `json:"subject,omitempty"`
	Text    string     `json:"text,omitempty"`
	OID     string     `json:"oid,omitempty"`     // of a notification
	Version string     `json:"version,omitempty"` // likewise
	Inform  bool       `json:"inform,omitempty"`
	TLS     bool       `json:"tls,omitempty"`      // it came over TLS
	SignsIn bool       `json:"signs_in,omitempty"` // its sender gave user and password
	Key     string     `json:"key,omitempty"`      // of an inform: the same for each repetition; "": it has none
	Matched []string   `json:"matched,omitempty"`  // names of the matches that it meets
}

// Sink is what arrived at a server that keeps it, and how that server is now. It
// never changes.
type Sink struct {
	Name string
	Kind string // "mail", "syslog" or "snmp"
	At   string // its simulated address and port

	Count   int        // messages that arrived
	Last    vtime.Tick // when the latest did; Never
	Refused int        // that it turned away
	Lost    int        // that got lost on the way, see drops_pct
	Repeats int        // informs that arrived once more
	Matched []int      // messages by the plan's matches
	Kept    []*Arrival // the latest, the oldest first

	Up     bool   // it is at work, and the way to it live
	Answer string // what it says
	Takes  vtime.Tick
	TLS    string
	SignIn string
	Acks   string
}

// Sink is the i-th of the site's sinks; before the first instant it is an empty one.
func (s *Site) Sink(i int) *Sink {
	if i >= len(s.Sinks) {
		return &Sink{Last: vtime.Never}
	}
	return &s.Sinks[i]
}

// MatchedBy is how many messages met the i-th match.
func (k *Sink) MatchedBy(i int) int {
	if i >= len(k.Matched) {
		return 0
	}
	return k.Matched[i]
}

// Lost is the reason in the answer to [OpArrive] of a message that a sink has lost.
const Lost = "lost"
