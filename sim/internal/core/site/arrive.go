package site

import (
	"fmt"
	"strings"
	"time"

	"ridethrough/sim/internal/core/plan"
	"ridethrough/sim/internal/core/snap"
)

// arrived takes up what came to a real sink; the answer is what its sender is told.
// A message that gets lost is Gone for nobody but its sink: of a datagram its sender
// hears nothing, of mail that it was taken.
func (s *Site) arrived(c snap.Command) snap.Result {
	v := s.sinkNamed(c.Host)
	if v == nil || c.Arrival == nil {
		return snap.Result{Status: snap.WrongValue, Reason: fmt.Sprintf("no sink %q, or nothing arrived", c.Host)}
	}
	a := *c.Arrival
	if !s.serves(v) || v.now.Answer == plan.AnswerClosed {
		return snap.Result{Status: snap.Inconsistent, Reason: "the server does not answer"}
	}
	tidyArrival(&a)
	if !c.OK {
		s.turnAway(v, &a, c.Text)
		return snap.Result{Status: snap.Denied, Reason: c.Text}
	}
	o := v.converse(s.now, call{secured: a.TLS, signsIn: a.SignsIn, from: a.From, to: a.To}.only(v.cfg.Kind))
	switch {
	case o.Outcome == snap.Delivered && s.keep(s.now, v, &a):
		return snap.Result{Reason: snap.Lost}
	case o.Outcome == snap.Delivered:
		return snap.Result{}
	}
	s.turnAway(v, &a, o.Reason)
	status := snap.Inconsistent
	if o.Outcome == snap.Rejected {
		status = snap.Denied
	}
	return snap.Result{Status: status, Reason: o.Reason}
}

// only leaves out what other servers than relays do not look at.
func (c call) only(kind plan.ServerKind) call {
	if kind != plan.ServerMail {
		c.from, c.to = "", nil
	}
	return c
}

func (s *Site) sinkNamed(name string) *server {
	for i := range s.servers.list {
		if v := &s.servers.list[i]; v.sink != nil && v.cfg.Name == name {
			return v
		}
	}
	return nil
}

// arrivalOf is what the card has sent, as a sink sees it.
func arrivalOf(p *snap.Post) *snap.Arrival {
	if l := p.Letter; l != nil {
		return &snap.Arrival{
			From: l.From, To: []string{l.To}, Subject: l.Subject, Text: l.Body,
			TLS: secured(p), SignsIn: p.Mail != nil && p.Mail.User != "",
		}
	}
	a := ParseSyslog(p.Text)
	a.TLS = secured(p)
	return &a
}

// ParseSyslog takes apart a message of RFC 5424 or of RFC 3164. Of any other text the
// subject is what follows its priority.
func ParseSyslog(text []byte) snap.Arrival {
	whole := string(text[:min(len(text), snap.MaxArrivalText)])
	a := snap.Arrival{Text: whole}
	a.Subject = whole
	if pri, rest, ok := strings.Cut(whole, ">"); ok && len(pri) > 1 && len(pri) <= 4 && pri[0] == '<' {
		a.Subject = rest
	}
	f := strings.SplitN(a.Subject, " ", 7) // version, time, host, application, process, message, the rest
	if len(f) < 7 || f[0] != "1" {
		return olderSyslog(a)
	}
	a.From = strings.TrimSuffix(strings.TrimPrefix(f[2]+" "+f[3], "- "), " -")
	a.Subject = strings.TrimPrefix(strings.TrimPrefix(afterData(f[6]), " "), "\uFEFF")
	return a
}

// olderSyslog is a with what RFC 3164 puts into its subject, if it does.
func olderSyslog(a snap.Arrival) snap.Arrival {
	const dated = len(time.Stamp)
	if len(a.Subject) <= dated || a.Subject[dated] != ' ' {
		return a
	}
	if _, err := time.Parse(time.Stamp, a.Subject[:dated]); err != nil {
		return a
	}
	host, rest, _ := strings.Cut(a.Subject[dated+1:], " ")
	if tag, text, ok := strings.Cut(rest, ": "); ok && !strings.Contains(tag, " ") {
		a.From, a.Subject = host+" "+tag, text
	}
	return a
}

// afterData is what follows the structured data.
func afterData(text string) string {
	if rest, ok := strings.CutPrefix(text, "-"); ok {
		return rest
	}
	quoted, escaped := false, false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case escaped:
			escaped = false
		case quoted && c == '\\':
			escaped = true
		case c == '"':
			quoted = !quoted
		case c == ']' && !quoted && (i+1 == len(text) || text[i+1] != '['):
			return text[i+1:]
		}
	}
	return ""
}

// sinkAt is the modelled sink that a receiver is, nil if it is none.
func (s *Site) sinkAt(r snap.Receiver) *server {
	for i := range s.servers.list {
		v := &s.servers.list[i]
		if v.sink != nil && v.cfg.Kind == plan.ServerSNMP && v.cfg.Address == r.To.Addr() && v.cfg.Port == r.To.Port() {
			if s.servers.outside[r.To.String()] {
				return nil
			}
			return v
		}
	}
	return nil
}
