package site

import (
	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Segments of a conversation over TCP, both ways, as short ones have them: its opening,
// what is asked and answered one after the other. Common practice: those of a mail are
// greeting, EHLO, MAIL, RCPT, DATA, the message, QUIT (RFC 5321 section 3).
const (
	segmentsMail   = 16
	segmentsSyslog = 4
	segmentsTLS    = 4 // of the handshake besides (RFC 8446 section 2)
	segmentsSignIn = 4 // AUTH (RFC 4954)
	segmentsLDAP   = 14
)

// carries is what becomes of an attempt at a server, which would come to o, on the card's
// link: lost is a datagram, which the card takes for sent, late how much longer a
// conversation over TCP takes, which loses nothing but time. One that takes too long is
// given up.
func (s *Site) carries(p *snap.Post, o plan.PostOutcome) (end plan.PostOutcome, lost bool, late vtime.Tick) {
	if p.Kind == snap.PostSyslog && p.Syslog.Transport == snap.SyslogUDP {
		if s.loses("syslog", outward) {
			return plan.PostOutcome{Outcome: snap.Deferred, Answered: true}, true, 0 // of which the card knows no reason
		}
		return o, false, s.takes("syslog")
	}
	kind, segments := "syslog", segmentsSyslog
	if p.Kind == snap.PostMail {
		kind, segments = "mail", segmentsMail
	}
	if secured(p) {
		segments += segmentsTLS
	}
	if p.Mail != nil && p.Mail.User != "" {
		segments += segmentsSignIn
	}
	late, ok := s.overTCP(kind, segments)
	if !ok || late > noAnswer {
		return plan.PostOutcome{Outcome: snap.Deferred, Reason: "the connection to " + p.Where + " timed out"}, true, noAnswer
	}
	return o, false, late
}

// askName is how long a server of names, which answers, takes over the card's link, and
// whether the card hears it before it gives up.
func (s *Site) askName(v *server) (takes vtime.Tick, found bool) {
	for range lookups {
		if !s.loses("names", outward) && !s.loses("names", inward) {
			return takes + v.now.Takes + s.takes("names") + s.takes("names"), true
		}
		takes += noName / lookups
	}
	return takes, false
}
