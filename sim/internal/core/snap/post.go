package snap

import (
	"time"

	"ridethrough/sim/internal/core/vtime"
)

// PostKind says what a message of the card is.
type PostKind uint8

// Kinds of messages.
const (
	PostMail PostKind = iota
	PostSyslog
)

// String is a word for k.
func (k PostKind) String() string { return nameOf([]string{"mail", "syslog"}, int(k)) }

// Post is one attempt to bring one message to its server. It never changes.
type Post struct {
	ID      uint32
	Kind    PostKind
	To      string // name of the recipient or of the syslog server in the settings
	Address string // of the recipient
	Late    bool
	Clears  bool // it tells that something is over
	Event   AlertEvent

	Mail   *MailSettings // of mail: the way it goes
	Syslog *SyslogServer // of syslog

	Letter *Letter // of mail
	Text   []byte  // of syslog: a message as in RFC 5424
	Where  string  // server and port, as they are set
	Mapped string  // server and port under which the world outside knows it

	After vtime.Tick // real time that the card's link takes before it is brought there
}

// Letter is what a mail says. Whoever sends it makes a message of RFC 5322 of it.
type Letter struct {
	From, To, Subject, MessageID, Body string
	Hello                              string    // what the card calls itself: its address as a literal (RFC 5321 section 4.1.3)
	Date                               time.Time // by the card's clock, when it was written
	Name                               string    // of the attachment; empty: there is none
	Attachment                         string
}

// Outcome of an attempt.
type Outcome uint8

// Outcomes.
const (
	Delivered Outcome = iota
	Deferred          // not now: the server said so, or there was no answer
	Rejected          // never: the server refuses this message
)

// PostLine is what the card knows of a message, for people.
type PostLine struct {
	ID    uint32
	Kind  PostKind
	To    string
	Event AlertEvent
	Made  vtime.Tick
	Tries int
	At    vtime.Tick // waiting: of the next attempt; else when it was over
	State string     // "waiting", "sending", "delivered", "late", "rejected", "expired", "dropped", "lost"
	Text  string     // the last reason of a failure
}

// PostOffice is what the card shows of its messages. It never changes.
type PostOffice struct {
	Waiting []PostLine
	Done    []PostLine // newest last, bounded
}

// PostCount counts messages of one kind, to everybody or to one.
type PostCount struct {
	Made, Sent, Delivered, Late, Rejected, Expired, Dropped, Lost, Waiting, Clears int
}

// Settle counts the end of a message that waited.
func (n *PostCount) Settle(state string, clears bool) {
	n.Waiting--
	switch state {
	case "delivered", "late":
		n.Delivered++
		if clears {
			n.Clears++
		}
		if state == "late" {
			n.Late++
		}
	case "rejected":
		n.Rejected++
	case "expired":
		n.Expired++
	case "lost":
		n.Lost++
	case "dropped":
		n.Dropped++
	}
}

// Posts are the truth about messages. It never changes.
type Posts struct {
	Mail, Syslog PostCount
	To           map[string]PostCount // by the name of the recipient or syslog server
	Risen        int                  // warnings that became critical because they lasted
}

var noPosts Posts

// Posted is never nil.
func (s *Site) Posted() *Posts {
	if s.Posts == nil {
		return &noPosts
	}
	return s.Posts
}
